"""Every figure function has its picture in ``.github/gallery.md``."""

import re

import numpy as np
import pytest
from PIL import Image

from tests.make_gallery import PAGE, PICTURES, drawn_by


def test_every_figure_function_stands_in_the_gallery_and_nothing_else() -> None:
    page = PAGE.read_text("utf-8")
    named = re.findall(r"^## (\w+)$", page, flags=re.M)
    assert sorted(named) == sorted(drawn_by())
    linked = re.findall(r"!\[[^\]]{20,}\]\(gallery/(\w+)\.png\)", page)
    assert linked == named
    assert {path.stem for path in PICTURES.iterdir()} == set(named)


@pytest.mark.parametrize("name", drawn_by())
def test_a_picture_is_small_and_not_blank(name: str) -> None:
    file = PICTURES / f"{name}.png"
    assert file.stat().st_size < 60_000
    grey = np.asarray(Image.open(file).convert("L"))
    assert grey.shape[1] >= 300
    assert (grey < 128).mean() > 0.005
