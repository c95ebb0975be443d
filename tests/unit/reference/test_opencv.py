import importlib

import pytest

from greasecheck.errors import MissingLibraryError
from greasecheck.reference.opencv import import_cv2


@pytest.mark.parametrize(
    ("message", "hint"),
    [
        ("libGL.so.1: cannot open shared object file: No such file or directory", "libgl1"),
        ("libgthread-2.0.so.0: cannot open shared object file", "libglib2.0-0"),
        ("libGL.so.1: cannot open shared object file", "mesa-libGL glib2"),
        ("No module named 'cv2'", "install greasecheck again"),
    ],
)
def test_a_missing_library_names_the_packages_to_install(
    monkeypatch: pytest.MonkeyPatch, message: str, hint: str
) -> None:
    def fail(name: str) -> None:
        raise ImportError(message)

    monkeypatch.setattr(importlib, "import_module", fail)
    with pytest.raises(MissingLibraryError) as caught:
        import_cv2()
    assert message in caught.value.problem
    assert hint in caught.value.hint
