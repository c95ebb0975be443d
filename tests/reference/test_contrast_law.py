"""The contrast law against worked examples of underwater visibility."""

import math

import pytest

from greasecheck.measure.water.transmittance import attenuation_from_contrast, slant_path


def test_contrast_at_one_attenuation_length() -> None:
    # Duntley (1948), J. Opt. Soc. Am. 38, 179, doi:10.1364/JOSA.38.000179: contrast falls to 1/e
    # over one attenuation length, here 250 mm for c = 4 per metre.
    assert attenuation_from_contrast(math.exp(-1), 250.0) == pytest.approx(4.0, abs=1e-12)


def test_black_disc_range() -> None:
    # Davies-Colley (1988), Limnol. Oceanogr. 33, 616, doi:10.4319/lo.1988.33.4.0616: c = 4.8 / y
    # for the range y of a black disc (contrast -1). Worked: y = 1.20 m means c = 4.0 per metre.
    threshold = math.exp(-4.8)
    assert attenuation_from_contrast(threshold, 1200.0) == pytest.approx(4.0, abs=0.05)


def test_secchi_depth() -> None:
    # Preisendorfer (1986), Limnol. Oceanogr. 31, 909, doi:10.4319/lo.1986.31.5.0909, eq. 1:
    # z = ln(C0 / Ct) / (c + K), with a coupling constant near 8.7. Worked: c = 3.0 and K = 0.9 per
    # metre give z = 2.23 m; looking down, K adds to c.
    seen = math.exp(-8.7)
    assert attenuation_from_contrast(seen, 2230.0) == pytest.approx(3.0 + 0.9, abs=0.05)


def test_slant_path_by_snell() -> None:
    # Snell's law by hand: at 45 degrees onto n = 1.333, sin r = 0.5305, cos r = 0.8477;
    # 60 mm / 0.8477 = 70.78 mm.
    assert slant_path(60.0, 45.0) == pytest.approx(70.78, abs=0.005)
