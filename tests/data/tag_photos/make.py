"""Makes the photos beside this file: codes as a camera in a workshop sees them.

The encoder (segno) is another than the program's own, so that reading is not tested by the hand that wrote.

    python3 -m venv env && env/bin/pip install segno==1.6.6 pillow numpy && env/bin/python make.py
"""
import io
from pathlib import Path

import numpy as np
import segno
from PIL import Image, ImageDraw, ImageFilter

HERE = Path(__file__).parent
rng = np.random.default_rng(312)


def code(text, scale=8, level="h"):
    """A code on white, with the quiet zone that a label has."""
    out = io.BytesIO()
    segno.make(text, error=level, micro=False, boost_error=False, mode="byte").save(out, kind="png", scale=scale, border=4)
    return Image.open(out).convert("L")


def label(text, scale=8, level="h"):
    """A code on a label beside its tag."""
    qr = code(text, scale, level)
    picture = Image.new("L", (qr.width * 3, qr.height + 2 * scale), 245)
    picture.paste(qr, (picture.width - qr.width - scale, scale))
    draw = ImageDraw.Draw(picture)
    draw.text((scale * 2, scale * 3), text.splitlines()[0][:20], fill=20, font_size=scale * 5)
    draw.text((scale * 2, scale * 14), "plough lift", fill=40, font_size=scale * 2)
    return picture


def bench(size, shade=110):
    """A bench top: a slope of light, edges, a few dark things."""
    width, height = size
    y, x = np.mgrid[0:height, 0:width]
    light = shade + 40 * x / width - 30 * y / height
    picture = Image.fromarray(light.astype(np.uint8))
    draw = ImageDraw.Draw(picture)
    for _ in range(14):
        at = rng.integers(0, [width, height])
        reach = rng.integers(10, min(size) // 5, 2)
        box = [*(at - reach).tolist(), *(at + reach).tolist()]
        (draw.rectangle if rng.random() < 0.5 else draw.ellipse)(box, outline=30, fill=int(rng.integers(40, 200)), width=4)
    return picture


def turned(what, degrees, size, shade=110):
    """What lies on the bench, turned."""
    around = bench(size, shade)
    mask = Image.new("L", what.size, 255).rotate(degrees, expand=True, resample=Image.BICUBIC)
    turned = what.rotate(degrees, expand=True, resample=Image.BICUBIC)
    around.paste(turned, ((size[0] - turned.width) // 2, (size[1] - turned.height) // 2), mask)
    return around


def seen_from_the_side(what, corners, size, shade=110):
    """What lies on the bench, its four corners at these places of the picture."""
    w, h = what.size
    rows, right = [], []
    for (x, y), (u, v) in zip(corners, [(0, 0), (w, 0), (w, h), (0, h)]):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    back = np.linalg.solve(np.array(rows, float), np.array(right, float))
    around = bench(size, shade)
    seen = what.transform(size, Image.PERSPECTIVE, back, Image.BICUBIC)
    mask = Image.new("L", what.size, 255).transform(size, Image.PERSPECTIVE, back, Image.BICUBIC)
    around.paste(seen, (0, 0), mask)
    return around


def noisy(picture, sigma):
    values = np.asarray(picture, float)
    return Image.fromarray(np.clip(values + rng.normal(0, sigma, values.shape), 0, 255).astype(np.uint8))


def darker(picture, low, high):
    values = np.asarray(picture, float)
    return Image.fromarray((low + values * (high - low) / 255).astype(np.uint8))


def save(name, picture, quality, **more):
    picture.convert("RGB").save(HERE / f"{name}.jpg", quality=quality, **more)


TAG = "TV-0312"
PAPER = "certificate TV-2026-0001\noutcome pass\nsha256 " + "0123456789abcdef" * 4

save("straight", turned(label(TAG), 0, (800, 600)), 40)
save("turned", turned(label(TAG), 37, (900, 700)), 40)
save("upside-down", turned(label(TAG), 181, (900, 700)), 40)
save("from-the-side", seen_from_the_side(label(TAG), [(150, 130), (760, 60), (820, 520), (90, 330)], (900, 600)), 40)
save("noise", noisy(turned(label(TAG), 12, (800, 600)), 30), 40)
save("dim", noisy(darker(turned(label(TAG), 8, (800, 600)), 6, 44), 2.5), 40)
save("out-of-focus", turned(label(TAG), 20, (800, 600)).filter(ImageFilter.GaussianBlur(3.5)), 40)
glare = np.asarray(turned(label(TAG, 10), 5, (900, 700)), float)
y, x = np.mgrid[0:700, 0:900]
glare = glare * (0.25 + 0.75 * x / 900) + 150 * np.exp(-((x - 640) ** 2 + (y - 330) ** 2) / 2 / 90**2)
save("uneven-light", Image.fromarray(np.clip(glare, 0, 255).astype(np.uint8)), 40)
save("light-on-dark", Image.eval(turned(label(TAG), 0, (800, 600)), lambda v: 255 - v), 40)
save("progressive", turned(label(TAG), 90, (900, 700)), 40, progressive=True)
large = bench((4000, 3000))
small = label(TAG, 4).rotate(7, expand=True, resample=Image.BICUBIC, fillcolor=110)
large.paste(small, (2900, 400))
save("small-in-12-megapixels", large.filter(ImageFilter.GaussianBlur(0.8)), 40)
save("tag-with-umlauts", turned(label("Pflug-Öl 7/3 №2"), 3, (900, 600)), 40)
save("paper", turned(code(PAPER, 8), 4, (1000, 900)), 60)
both = bench((1400, 700))
both.paste(code("https://depot.example/parts/7", 8), (60, 120))
both.paste(label(TAG, 6), (620, 300))
save("two-codes", both, 40)
save("no-code", bench((900, 700)), 40)
save("no-code-noise", noisy(bench((900, 700)), 60), 40)
# Grey by four colours of ink, as scanners make it.
turned(label(TAG), 0, (800, 600)).convert("CMYK").save(HERE / "four-inks.jpg", quality=40)
turned(label(TAG, 5), 3, (600, 400)).convert("P").save(HERE / "palette.png", optimize=True)
turned(label(TAG, 5), 3, (600, 400)).save(HERE / "animation.gif")
