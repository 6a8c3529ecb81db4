from pathlib import Path

import nbformat
import pytest

ROOT = Path(__file__).parents[2] / "notebooks"
NAMES = ("one_client", "how_far_to_trust", "practice_audit", "planning_a_challenge")


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
@pytest.mark.filterwarnings("default")  # jupyter's own, from the client that runs the kernel
def test_notebook_runs_from_start_to_end(name, monkeypatch):
    from nbclient import NotebookClient

    # enough clients to run every line; the outputs that are kept rest on more
    monkeypatch.setenv("CHALLENGE_NOTEBOOK_CLIENTS", "24" if name == "practice_audit" else "4")
    # the kernel starts in notebooks/, and must find this tree whether or not it is installed
    monkeypatch.setenv("PYTHONPATH", str(ROOT.parent))
    notebook = nbformat.read(ROOT / f"{name}.ipynb", as_version=4)
    NotebookClient(
        notebook, timeout=300, resources={"metadata": {"path": str(ROOT)}}, kernel_name="python3"
    ).execute()


@pytest.mark.parametrize("name", NAMES)
def test_notebook_keeps_its_outputs_and_says_what_it_does_not_show(name):
    notebook = nbformat.read(ROOT / f"{name}.ipynb", as_version=4)
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert any(cell.outputs for cell in code)
    assert all(cell.execution_count for cell in code)
    assert not any(o.output_type == "error" for cell in code for o in cell.outputs)
    assert "What this does not show" in notebook.cells[-1].source
