"""Hyper-accurate circle fits of the circle files, from the definition and not by a characteristic polynomial.

Al-Sharadqah and Chernov (2009), Error analysis for circle fitting algorithms, Electronic Journal of Statistics 3:886-911: with
z = (x^2 + y^2, x, y, 1), M = mean(z z^T) and H = 2 T - P (T Taubin's, P Pratt's constraint), the parameters are the generalised eigenvector
of M A = eta H A for the smallest eta that is not negative. Run once with numpy 2.4.6; rows as in expected.csv.
"""
import glob
import os
import numpy as np

HERE = os.path.dirname(os.path.abspath(__file__))
for path in sorted(glob.glob(os.path.join(HERE, "circle_*.csv"))):
    name = os.path.basename(path)
    lines = [line for line in open(path) if not line.startswith("#")][1:]
    points = np.array([[float(cell) for cell in line.split(",")] for line in lines])
    middle = points.mean(axis=0)
    scale = np.sqrt(((points - middle) ** 2).sum(axis=1).mean())
    x, y = ((points - middle) / scale).T
    s = x * x + y * y
    z = np.stack([s, x, y, np.ones_like(x)])
    m = z @ z.T / len(x)
    h = np.array([[8 * s.mean(), 4 * x.mean(), 4 * y.mean(), 2], [4 * x.mean(), 1, 0, 0], [4 * y.mean(), 0, 1, 0], [2, 0, 0, 0]])
    eta, vectors = np.linalg.eig(np.linalg.solve(h, m))
    order = sorted(range(4), key=lambda i: (eta[i].real < -1e-12, abs(eta[i].real)))
    a, b, c, d = vectors[:, order[0]].real
    cx, cy = -b / (2 * a), -c / (2 * a)
    r = np.sqrt(b * b + c * c - 4 * a * d) / (2 * abs(a))
    case = name.removesuffix(".csv").replace("circle_", "circle-", 1)
    for key, value in [("cx", cx * scale + middle[0]), ("cy", cy * scale + middle[1]), ("r", r * scale)]:
        print(f"{case},{name},hyper.{key},{value!r}".replace("np.float64(", "").replace(")", ""))
