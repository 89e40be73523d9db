"""Cameras that are not ours: six response curves fixed here, noise, clipping and JPEG coding.

Each curve is sRGB with more contrast about a middle grey, as cameras' own curves are: one stop of light reads
as 1.12 to 1.64 stops where the codes are taken for sRGB (range measured on brackets of real cameras). They
differ in shoulder and black as well, and none is built from our Legendre terms.
"""

import io

import numpy as np
from PIL import Image

MIDDLE = 0.18
CURVES = {
    # name: (contrast about middle grey, hardness of the shoulder, lift of the black)
    "plain": (1.12, 3.0, 0.000),
    "soft": (1.22, 1.5, 0.002),
    "even": (1.32, 2.5, 0.000),
    "crisp": (1.42, 2.0, 0.001),
    "slide": (1.52, 1.6, 0.000),
    "hard": (1.64, 2.2, 0.002),
}
PULL = {"phone a": 0.1, "phone b": 0.2, "phone c": 0.3, "phone d": 0.45}
"""Phones: how far each pulls a picture's brightness towards the same middle, as a share of what it is off.
The last one reads 45 % low, as one of four real ones does."""
SHOT_NOISE, READ_NOISE = 0.004, 0.0008
"""Of the sensor's white at ISO 100: square root of light times the first, and the second."""


def codes_of(light, curve):
    """Codes 0 to 255 (real numbers) of linear light, 1.0 the sensor's white; increasing.

    `curve` is a name of CURVES or such a triple.
    """
    contrast, hard, lift = CURVES[curve] if isinstance(curve, str) else curve
    steep = MIDDLE * (np.clip(light, 0, 1) / MIDDLE) ** contrast
    white = MIDDLE * (1 / MIDDLE) ** contrast
    bent = (steep / white) * ((1 + white**hard) / (1 + steep**hard)) ** (1 / hard)
    y = lift + (1 - lift) * bent
    return 255 * np.where(y <= 0.0031308, 12.92 * y, 1.055 * np.maximum(y, 1e-9) ** (1 / 2.4) - 0.055)


def pixels(light, curve, *, seed, iso=100):
    """Codes (rows, columns, 3) of linear light (rows, columns, 3), 1.0 the sensor's white, with noise."""
    rng = np.random.default_rng(seed)
    grain = rng.standard_normal(light.shape, dtype=np.float32)
    noise = np.sqrt(np.maximum(light, 0) * SHOT_NOISE**2 + READ_NOISE**2) * np.sqrt(iso / 100)
    return np.clip(codes_of(light + grain * noise, curve) + 0.5, 0, 255).astype(np.uint8)


def pulled(light, phone, rng):
    """Linear light as a phone makes it before its curve: pulled to the middle as a whole, and patch by patch.

    How far differs from picture to picture; dark patches are lifted by a third of that.
    """
    pull = np.clip(PULL[phone] + rng.normal(0, 0.05), 0, 0.6)
    grey = light.mean(axis=2)
    small = Image.fromarray(grey.astype(np.float32)).resize((6, 4), Image.Resampling.BOX)
    patch = np.asarray(small.resize(grey.shape[::-1], Image.Resampling.BICUBIC))
    whole = (MIDDLE / max(float(grey.mean()), 1e-6)) ** pull
    local = np.clip(grey.mean() / np.maximum(patch, 1e-4), 1, 8) ** (pull / 3)
    return (light * whole * local[..., None]).astype(np.float32)


def photograph(light, curve, *, seed, iso=100, quality=90):
    """A JPEG of linear light (rows, columns, 3), 1.0 the sensor's white."""
    out = io.BytesIO()
    Image.fromarray(pixels(light, curve, seed=seed, iso=iso)).save(out, "JPEG", quality=quality)
    return out.getvalue()


def grey(jpeg, longest_px=320):
    """Luma codes of a JPEG, box-averaged to at most `longest_px`, as a sketch holds them."""
    picture = Image.open(io.BytesIO(jpeg)).convert("L")
    scale = max(picture.size) / longest_px
    if scale > 1:
        picture = picture.resize([round(n / scale) for n in picture.size], Image.Resampling.BOX)
    return np.asarray(picture)
