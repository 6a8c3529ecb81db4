"""LibreOffice as its user: opens a workbook, types into cells, saves it as XLSX or ODS.

What is typed goes through the program's own input line (``.uno:EnterString``), so that dates, times
and numbers are understood as they are when a person types them.
"""

import shutil
import subprocess
from pathlib import Path
from xml.sax.saxutils import escape

OFFICE = shutil.which("soffice") or shutil.which("libreoffice")

_MACRO = """
Sub Fill
    On Error GoTo Broken
    Dim book, frame, helper, entry, parts, handle
    Dim where(0) As New com.sun.star.beans.PropertyValue
    Dim what(0) As New com.sun.star.beans.PropertyValue
    Dim how(0) As New com.sun.star.beans.PropertyValue
    book = StarDesktop.loadComponentFromURL("{source}", "_blank", 0, Array())
    frame = book.CurrentController.Frame
    helper = createUnoService("com.sun.star.frame.DispatchHelper")
    handle = FreeFile
    Open "{typed}" For Input As #handle
    Do While Not Eof(handle)
        Line Input #handle, entry
        If entry <> "" Then
            parts = Split(entry, Chr(9))
            book.CurrentController.setActiveSheet(book.Sheets.getByName(parts(0)))
            where(0).Name = "ToPoint" : where(0).Value = parts(1)
            helper.executeDispatch(frame, ".uno:GoToCell", "", 0, where())
            what(0).Name = "StringName" : what(0).Value = parts(2)
            helper.executeDispatch(frame, ".uno:EnterString", "", 0, what())
        End If
    Loop
    Close #handle
    how(0).Name = "FilterName" : how(0).Value = "{filter}"
    book.storeToURL("{target}", how())
    book.close(True)
    StarDesktop.terminate()
    Exit Sub
Broken:
    handle = FreeFile
    Open "{typed}.error" For Output As #handle
    Print #handle, Error$ & " (line " & Erl & ")"
    Close #handle
    StarDesktop.terminate()
End Sub
"""

_FILTERS = {".xlsx": "Calc MS Excel 2007 XML", ".ods": "calc8", ".pdf": "calc_pdf_Export"}
_LIBRARIES = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE library:libraries PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "libraries.dtd">
<library:libraries xmlns:library="http://openoffice.org/2000/library"
  xmlns:xlink="http://www.w3.org/1999/xlink">
 <library:library library:name="Standard" library:link="false"/>
</library:libraries>
"""
_LIBRARY = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE library:library PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "library.dtd">
<library:library xmlns:library="http://openoffice.org/2000/library" library:name="Standard"
  library:readonly="false" library:passwordprotected="false">
 <library:element library:name="Module1"/>
</library:library>
"""
_MODULE = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE script:module PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "module.dtd">
<script:module xmlns:script="http://openoffice.org/2000/script" script:name="Module1"
  script:language="StarBasic">{code}</script:module>
"""


def fill(source: Path, target: Path, typed: list[tuple[str, str, str]]) -> None:
    """Type texts into cells of a workbook, given as sheet, cell and text, and save it."""
    work = target.parent / "office"
    work.mkdir()
    # the first start lays out a profile, and would overwrite a macro that is there already
    _run(work, "--terminate_after_init")
    basic = work / "user" / "basic"
    lines = work / "typed.txt"
    lines.write_text("".join("\t".join(entry) + "\n" for entry in typed), encoding="utf-8")
    code = _MACRO.format(
        source=source.resolve().as_uri(),
        target=target.resolve().as_uri(),
        typed=lines,
        filter=_FILTERS[target.suffix],
    )
    (basic / "script.xlc").write_text(_LIBRARIES, encoding="utf-8")
    (basic / "Standard" / "script.xlb").write_text(_LIBRARY, encoding="utf-8")
    (basic / "Standard" / "Module1.xba").write_text(
        _MODULE.format(code=escape(code)), encoding="utf-8"
    )
    _run(work, "macro:///Standard.Module1.Fill")
    failure = lines.with_name(f"{lines.name}.error")
    if failure.exists() or not target.exists():
        raise RuntimeError(failure.read_text("utf-8") if failure.exists() else "nothing saved")


def _run(work: Path, *words: str) -> None:
    profile = f"-env:UserInstallation={work.resolve().as_uri()}"
    command = [OFFICE, profile, "--headless", "--norestore", *words]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
