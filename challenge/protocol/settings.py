"""Settings of one client, as ``client.toml`` holds them; every key has a default."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from challenge.terms import SYMPTOMS


class Section(BaseModel):
    """A table of client.toml. Unknown keys are reported by the reader, never lost in silence."""

    model_config = ConfigDict(frozen=True, extra="ignore")


class AnalysisSettings(Section):
    """The rule by which a rise in symptoms is judged, fixed before the first challenge."""

    margin: float = Field(default=1.0, gt=0, le=10)
    """Smallest rise that matters [score points]."""
    confidence: float = Field(default=0.90, gt=0.5, lt=1)
    """Confidence level of the intervals (0.90 two-sided is 0.95 one-sided)."""
    primary_symptom: str = ""
    """Symptom on which tests are adjusted; by default the worst one on reference days."""
    seed: int = 20260301
    """Seed of every random number drawn in the analysis."""


class DiarySettings(Section):
    """What the client scores, and how odd files are to be read."""

    symptoms: tuple[str, ...] = SYMPTOMS
    """0-10 symptoms followed."""
    ratings_per_day: int = Field(default=3, ge=1, le=12)
    columns: dict[str, str] = Field(default_factory=dict)
    """Column names of the client's own spreadsheet -> column names of the contract."""
    timezone: str = "UTC"


class Settings(Section):
    """All of client.toml."""

    client: str = ""
    analysis: AnalysisSettings = AnalysisSettings()
    diary: DiarySettings = DiarySettings()
