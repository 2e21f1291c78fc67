"""What a colour-blind eye sees of a colour, and how far two colours are from each other.

The matrices are those of Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of
color vision deficiency", IEEE Transactions on Visualization and Computer Graphics 15 (2009), severity 1.0
(values from memory; each row adds up to 1, as white must stay white). They work on linear light.
"""

from __future__ import annotations

import re

import numpy as np

NORMAL = np.eye(3)
PROTANOPIA = np.array(
    [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
)
DEUTERANOPIA = np.array(
    [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
)
EYES = {"normal": NORMAL, "protanopia": PROTANOPIA, "deuteranopia": DEUTERANOPIA}

# IEC 61966-2-1, linear sRGB to CIE XYZ, and its white
_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def linear(colour: str, over: str = "#000000") -> np.ndarray:
    """Linear light of ``#RRGGBB``, or of ``rgba(...)`` laid over another colour as a browser lays it."""
    if colour.startswith("#"):
        encoded = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    else:
        *channels, alpha = (float(part) for part in re.findall(r"[\d.]+", colour))
        below = np.array([int(over[at : at + 2], 16) / 255 for at in (1, 3, 5)])
        encoded = alpha * np.array(channels) / 255 + (1 - alpha) * below
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def lab(light: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b* of linear light."""
    ratio = _XYZ @ np.clip(light, 0.0, 1.0) / (_XYZ @ np.ones(3))
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def apart(one: np.ndarray, other: np.ndarray, eye: np.ndarray) -> float:
    """CIE 1976 colour difference of two lights, as an eye sees them; about 2.3 is just noticeable."""
    return float(np.linalg.norm(lab(eye @ one) - lab(eye @ other)))
