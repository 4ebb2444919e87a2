"""Makes outside_values.csv and tolerance_every_n.csv: values of general libraries and of plain numerical maximisation.

python3 -m venv v && v/bin/pip install numpy scipy statsmodels lifelines && v/bin/python outside_values.py
"""
import itertools
import sys

import numpy as np
import scipy
from scipy import optimize, special, stats

OUT = []


def put(key, value):
    OUT.append((key, float(value)))


INF = np.inf
FRAME = [(v, v) for v in (19.5, 20.8, 21.4, 22.0, 22.7, 23.1, 24.2)] + [(26.0, INF)] * 3
STEPS = [(18, 20)] + [(20, 22)] * 3 + [(22, 24)] * 2 + [(24, 26)] + [(26, INF)] * 3
MIXED = [(19.5, 19.5), (20, 22), (20, 22), (21.4, 21.4), (0, 21), (22, 24), (23.1, 23.1), (24, 26), (26, INF), (22.5, INF)]


# --- strengths -----------------------------------------------------------------------------------------------------------------------
def standard(model):
    """ln density, ln F, ln S of the standardised family, scale, quantile."""
    if model == "Weibull":
        return (lambda z: z - np.exp(z), lambda z: np.log(-np.expm1(-np.exp(z))), lambda z: -np.exp(z), np.log, lambda p: np.log(-np.log1p(-p)))
    tail = special.log_ndtr
    return (lambda z: -0.5 * z * z - 0.5 * np.log(2 * np.pi), tail, lambda z: tail(-z), np.log if model == "lognormal" else (lambda x: x), special.ndtri)


def ln_l(model, data, mu, sigma):
    ld, lf, ls, tr, _ = standard(model)
    total = 0.0
    for lo, up in data:
        if lo == up:
            total += ld((tr(lo) - mu) / sigma) - np.log(sigma) - (np.log(lo) if model != "normal" else 0)
        elif up == INF:
            total += ls((tr(lo) - mu) / sigma)
        elif lo == 0 and model != "normal":
            total += lf((tr(up) - mu) / sigma)
        else:
            a, b = lf((tr(lo) - mu) / sigma), lf((tr(up) - mu) / sigma)
            total += b + np.log(-np.expm1(a - b))
    return total


def polish(f, x):
    for _ in range(4):
        x = optimize.minimize(f, x, method="Nelder-Mead", options=dict(xatol=1e-13, fatol=1e-15, maxiter=400)).x
    return x


def fit(model, data, known={}):
    if (model, tuple(data)) not in known:
        known[model, tuple(data)] = fit_anew(model, data)
    return known[model, tuple(data)]


def fit_anew(model, data):
    tr = standard(model)[3]
    ends = np.array([tr(x) for d in data for x in d if np.isfinite(x) and x > 0])
    f = lambda t: -ln_l(model, data, t[0], np.exp(t[1]))
    x = polish(f, [ends.mean(), np.log(ends.std())])
    return x[0], np.exp(x[1]), -f(x)


def best1(f, at, width):
    """Highest value of a smooth function of one variable near `at`."""
    r = optimize.minimize_scalar(lambda t: -f(t), bracket=(at, at + width), method="brent", options=dict(xtol=1e-12))
    return -r.fun


def profile_quantile(model, data, p, fall):
    _, _, _, tr, q = standard(model)
    mu, sigma, top = fit(model, data)
    w = q(p)
    y0 = mu + sigma * w
    prof = lambda y: best1(lambda t: ln_l(model, data, y - np.exp(t) * w, np.exp(t)), np.log(sigma), 0.1)
    miss = lambda y: 2 * (top - prof(y)) - fall
    return limits(miss, y0, 0.3 * sigma), (np.exp if model != "normal" else (lambda x: x))


def profile_sigma(model, data, fall):
    mu, sigma, top = fit(model, data)
    prof = lambda t: best1(lambda m: ln_l(model, data, m, np.exp(t)), mu, 0.1 * sigma)
    miss = lambda t: 2 * (top - prof(t)) - fall
    lo, up = limits(miss, np.log(sigma), 0.2)
    return np.exp(lo), np.exp(up)


def limits(miss, best, step):
    out = []
    for side in (-1, 1):
        a, b = best, best + side * step
        while miss(b) < 0:
            a, b = b, b + side * step
        out.append(optimize.brentq(miss, min(a, b), max(a, b), xtol=1e-12))
    return out


def strengths():
    fall = stats.chi2.ppf(0.95, 1)
    for name, data in (("frame", FRAME), ("steps", STEPS), ("mixed", MIXED)):
        for model in ("Weibull", "lognormal", "normal"):
            mu, sigma, top = fit(model, data)
            k = f"strength/{name}/{model}/"
            put(k + "mu", mu), put(k + "sigma", sigma), put(k + "ln_l", top)
            put(k + "aicc", 4 - 2 * top + 12 / (len(data) - 3))
            for p in (0.1, 0.5, 0.9):
                (lo, up), back = profile_quantile(model, data, p, fall)
                put(k + f"q{p}/lower", back(lo)), put(k + f"q{p}/upper", back(up))
            lo, up = profile_sigma(model, data, fall)
            put(k + "sigma/lower", lo), put(k + "sigma/upper", up)
            w0 = {"Weibull": -np.expm1(-1.0)}.get(model, 0.5)
            (lo, up), back = profile_quantile(model, data, w0, fall)
            put(k + "location/lower", back(lo)), put(k + "location/upper", back(up))


def with_lifelines():
    import lifelines

    print("lifelines", lifelines.__version__)
    e = np.array([lo == up for lo, up in FRAME])
    t = np.array([lo for lo, _ in FRAME])
    f = lifelines.LogNormalFitter().fit(t, e)
    put("lifelines/frame/lognormal/mu", f.mu_), put("lifelines/frame/lognormal/sigma", f.sigma_), put("lifelines/frame/lognormal/ln_l", f.log_likelihood_)
    for model, fitter in (("lognormal", lifelines.LogNormalFitter()), ("Weibull", lifelines.WeibullFitter())):
        lo, up = np.array(STEPS, float).T
        f = fitter.fit_interval_censoring(lo, up)
        a, b = (f.mu_, f.sigma_) if model == "lognormal" else (np.log(f.lambda_), 1 / f.rho_)
        put(f"lifelines/steps/{model}/mu", a), put(f"lifelines/steps/{model}/sigma", b), put(f"lifelines/steps/{model}/ln_l", f.log_likelihood_)
    # Two groups
    g = np.genfromtxt("km_gehan.csv", delimiter=",", skip_header=1, dtype=str, comments="#")
    t, e, arm = g[:, 0].astype(float), g[:, 1].astype(int), g[:, 2] == "control"
    for model, fitter in (("Weibull", lifelines.WeibullFitter), ("lognormal", lifelines.LogNormalFitter)):
        one = fitter().fit(t, e).log_likelihood_
        each = sum(fitter().fit(t[a], e[a]).log_likelihood_ for a in (arm, ~arm))
        put(f"lifelines/gehan/{model}/one", one), put(f"lifelines/gehan/{model}/each", each)
    import pandas as pd

    df = pd.DataFrame(dict(t=t, e=e, arm=arm.astype(float)))
    for model, fitter in (("Weibull", lifelines.WeibullAFTFitter()), ("lognormal", lifelines.LogNormalAFTFitter())):
        put(f"lifelines/gehan/{model}/common", fitter.fit(df, "t", "e").log_likelihood_)
    # Competing causes, no ties between values
    t = np.array([3.1, 4.0, 4.4, 5.2, 6.1, 6.3, 7.0, 7.7, 8.2, 9.9, 10.4, 11.8])
    c = np.array([1, 2, 0, 1, 1, 2, 0, 1, 2, 0, 1, 0])
    for cause in (1, 2):
        f = lifelines.AalenJohansenFitter(calculate_variance=True).fit(t, c, event_of_interest=cause)
        for time in t[c > 0]:
            put(f"lifelines/incidence/{cause}/{time}", np.squeeze(f.cumulative_density_.loc[time]))
            put(f"lifelines/incidence/{cause}/{time}/variance", np.squeeze(f.variance_.loc[time]))


def turnbull():
    """Self-consistency run for very long; the data of Finkelstein & Wolfe (1985), radiotherapy arm."""
    rows = np.genfromtxt("turnbull_cosmesis.csv", delimiter=",", skip_header=2, comments="#")
    rows = [(a, INF if np.isnan(b) else b) for a, b in rows]
    for name, data in (("cosmesis", rows), ("mixed", MIXED)):
        # Candidate ranges: between any lower and any upper end.
        cuts = sorted({x for d in data for x in d})
        cells = list(zip(cuts[:-1], cuts[1:])) + [(x, x) for x, y in data if x == y]
        inside = np.array([[(a <= lo and up <= b and not (lo == up and lo == a != b)) if a != b else (lo == up == a) for lo, up in cells] for a, b in data])
        p = np.full(len(cells), 1 / len(cells))
        for _ in range(200000):
            p = p * (inside.T @ (1 / (inside @ p))) / len(data)
        put(f"turnbull/{name}/ln_l", np.log(inside @ p).sum())
        for (lo, up), x in zip(cells, p):
            if x > 1e-9:
                put(f"turnbull/{name}/{float(lo)}-{float(up)}", x)


# --- samples -------------------------------------------------------------------------------------------------------------------------
A = [9.1, 8.8, 9.6, 10.2, 9.4, 8.9, 9.9, 9.3, 9.7, 9.0]
B = [9.7, 10.1, 9.2, 10.6, 10.0, 9.8, 10.3, 9.5, 10.9, 9.9, 10.2, 8.7]
GRADES_A = [0, 1, 1, 2, 0, 1, 3, 2, 1]
GRADES_B = [2, 1, 3, 3, 2, 1, 2, 3]
SKEW = [0.12, 0.31, 0.33, 0.48, 0.52, 0.77, 0.91, 1.3, 1.42, 1.9, 2.6, 3.3, 4.9, 8.8]
BEFORE = [21.4, 21.9, 22.3, 21.1, 22.8, 21.7, 22.0, 21.5, 22.6]
AFTER = [21.9, 21.8, 22.9, 21.6, 23.0, 22.4, 22.0, 21.9, 22.3]


def sequence(n):
    """A sample anyone can make again: digits of a multiplicative sequence, through the normal quantile plus a little skewness."""
    u = (np.arange(1, n + 1) * 0.6180339887498949) % 1.0
    z = stats.norm.ppf(0.01 + 0.98 * u)
    return z + 0.1 * z * z


def samples():
    for n in (3, 4, 5, 6, 7, 10, 11, 12, 20, 50, 200, 1000, 5000):
        w, p = stats.shapiro(sequence(n))
        put(f"shapiro/{n}/w", w), put(f"shapiro/{n}/p", p)
    for name, x in (("a", A), ("skew", SKEW)):
        w, p = stats.shapiro(x)
        put(f"shapiro/{name}/w", w), put(f"shapiro/{name}/p", p)
    r = stats.ttest_ind(B, A, equal_var=False)
    ci = r.confidence_interval(0.95)
    put("welch/t", r.statistic), put("welch/p", r.pvalue), put("welch/df", r.df), put("welch/lower", ci.low), put("welch/upper", ci.high)
    r = stats.ttest_rel(AFTER, BEFORE)
    put("paired/t", r.statistic), put("paired/p", r.pvalue)
    from statsmodels.stats.weightstats import ttost_ind, ttost_paired

    p, lower, upper = ttost_ind(B, A, -0.9, 1.2, usevar="unequal")
    put("tost/p", p), put("tost/lower", lower[1]), put("tost/upper", upper[1])
    p, lower, upper = ttost_paired(np.array(AFTER), np.array(BEFORE), -0.1, 0.8)
    put("tost_paired/p", p), put("tost_paired/lower", lower[1]), put("tost_paired/upper", upper[1])
    x, y = [1.5, 2.25, 3.125, 4.0, 8.5], [2.0, 5.5, 6.75, 7.0, 9.25, 9.5]
    for alt in ("two-sided", "greater", "less"):
        r = stats.mannwhitneyu(y, x, alternative=alt, method="exact")
        put(f"mw/untied/{alt}", r.pvalue)
    put("mw/untied/u", stats.mannwhitneyu(y, x).statistic)
    # Ties: every division of the grades visited.
    for name, (x, y) in dict(grades=(GRADES_A, GRADES_B), values=(A, B)).items():
        ranks = stats.rankdata(list(x) + list(y))
        seen = ranks[len(x):].sum()
        sums = np.array([sum(c) for c in itertools.combinations(ranks, len(y))])
        less, greater = (sums <= seen + 1e-9).mean(), (sums >= seen - 1e-9).mean()
        put(f"mw/{name}/less", less), put(f"mw/{name}/greater", greater), put(f"mw/{name}/u", seen - len(y) * (len(y) + 1) / 2)
    x, y = sequence(70), sequence(60) + 0.3
    x, y = np.round(x, 1) + 0.0, np.round(y, 1) + 0.0
    for alt in ("two-sided", "greater", "less"):
        put(f"mw/large/{alt}", stats.mannwhitneyu(y, x, alternative=alt, method="asymptotic").pvalue)
    d = np.array(AFTER) - np.array(BEFORE)
    d = np.round(d[np.abs(d) > 1e-9], 10)
    ranks = stats.rankdata(np.abs(d))
    w = ranks[d > 0].sum()
    sums = np.array([sum(r for r, s in zip(ranks, signs) if s) for signs in itertools.product((0, 1), repeat=len(ranks))])
    put("signed/w", w), put("signed/less", (sums <= w + 1e-9).mean()), put("signed/greater", (sums >= w - 1e-9).mean())
    x = [1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30]
    y = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29]
    r = stats.wilcoxon(np.array(y) - np.array(x), method="exact")
    put("signed/hollander/p", r.pvalue)
    d = (np.round(sequence(150) * 10) + 2) / 10
    d = d[d != 0]
    for alt in ("two-sided", "greater", "less"):
        put(f"signed/large/{alt}", stats.wilcoxon(d, alternative=alt, method="asymptotic", correction=True).pvalue)
    r = stats.kruskal(GRADES_A, GRADES_B, [3, 3, 2, 3, 1])
    put("kruskal/grades/h", r.statistic), put("kruskal/grades/p", r.pvalue)


def tolerance():
    def two_sided(n, p, c):
        nu = n - 1
        x, w = np.polynomial.legendre.leggauss(400)
        u, w = 4.5 * (x + 1), 4.5 * w
        z = u / np.sqrt(n)
        # Half-width that holds p about z, by halving.
        low, high = np.zeros_like(z), z + 10
        for _ in range(70):
            r = (low + high) / 2
            less = special.ndtr(z + r) - special.ndtr(z - r) < p
            low, high = np.where(less, r, low), np.where(less, high, r)
        weight = 2 * w * stats.norm.pdf(u)
        conf = lambda k: (weight * stats.chi2.sf(nu * r * r / (k * k), nu)).sum() - c
        k0 = stats.norm.ppf((1 + p) / 2) * np.sqrt(nu * (1 + 1 / n) / stats.chi2.ppf(1 - c, nu))
        return optimize.brentq(conf, 0.5 * k0, 2 * k0, xtol=1e-13, rtol=1e-13)

    with open("tolerance_every_n.csv", "w") as f:
        f.write("# one-sided: scipy.stats.nct.ppf; two-sided: the exact integral by quadrature with 400 points. In the names: coverage and confidence, %.\n")
        asked = ((0.95, 0.95), (0.99, 0.9), (0.9, 0.99))
        f.write("n," + ",".join(f"{side}_{100 * p:.0f}_{100 * c:.0f}" for p, c in asked for side in ("one", "two")) + "\n")
        for n in range(2, 1001):
            f.write(str(n))
            for p, c in asked:
                one = stats.nct.ppf(c, n - 1, np.sqrt(n) * stats.norm.ppf(p)) / np.sqrt(n)
                f.write(f",{one:.8f},{two_sided(n, p, c):.8f}")
            f.write("\n")


def plans():
    for n, d, p, c in ((10, 3.5, 0.95, 0.95), (30, 3.0, 0.99, 0.95), (15, 2.0, 0.95, 0.9), (59, 2.2, 0.95, 0.95)):
        k = stats.nct.ppf(c, n - 1, np.sqrt(n) * stats.norm.ppf(p)) / np.sqrt(n)
        put(f"plan/power/{n}", stats.nct.sf(np.sqrt(n) * k, n - 1, np.sqrt(n) * d))
    for d, p, c, power in ((3.0, 0.95, 0.95, 0.8), (2.5, 0.95, 0.95, 0.9), (4.0, 0.99, 0.95, 0.9)):
        for n in range(2, 2000):
            k = stats.nct.ppf(c, n - 1, np.sqrt(n) * stats.norm.ppf(p)) / np.sqrt(n)
            if stats.nct.sf(np.sqrt(n) * k, n - 1, np.sqrt(n) * d) >= power:
                put(f"plan/size/{d}", n)
                break


# --- categories ----------------------------------------------------------------------------------------------------------------------
def categories():
    for a, n1, c, n2 in ((8, 15, 1, 12), (3, 10, 7, 10), (0, 30, 4, 30), (12, 400, 30, 380)):
        t = [[a, n1 - a], [c, n2 - c]]
        for alt in ("two-sided", "greater", "less"):
            put(f"fisher/{a}/{alt}", stats.fisher_exact(t, alternative=alt).pvalue)
    scores, x, n = [0, 1, 2, 4], [1, 3, 4, 6], [10, 10, 9, 8]
    total, big = sum(x), sum(n)
    pbar = total / big
    tt = sum(s * (e - m * pbar) for s, e, m in zip(scores, x, n))
    var = pbar * (1 - pbar) * (sum(s * s * m for s, m in zip(scores, n)) - sum(s * m for s, m in zip(scores, n)) ** 2 / big)
    put("trend/z", tt / np.sqrt(var)), put("trend/p", 2 * stats.norm.sf(abs(tt) / np.sqrt(var)))
    seen = sum(s * e for s, e in zip(scores, x))
    centre = total * sum(s * m for s, m in zip(scores, n)) / big
    weights = {}
    for e in itertools.product(*(range(m + 1) for m in n)):
        if sum(e) == total:
            s = sum(a * b for a, b in zip(scores, e))
            weights[s] = weights.get(s, 0) + np.prod([special.comb(m, k, exact=True) for m, k in zip(n, e)], dtype=float)
    all_w = sum(weights.values())
    put("trend/exact", sum(w for s, w in weights.items() if abs(s - centre) >= abs(seen - centre) - 1e-9) / all_w)
    put("trend/rising", sum(w for s, w in weights.items() if s >= seen) / all_w)
    for a, t1, b, t2 in ((11, 800.0, 3, 900.0), (0, 50.0, 5, 60.0), (7, 20.0, 9, 20.0)):
        share = t2 / (t1 + t2)
        k = f"rates/{a}/"
        put(k + "less", stats.binomtest(b, a + b, share, alternative="less").pvalue)
        put(k + "greater", stats.binomtest(b, a + b, share, alternative="greater").pvalue)
        ci = stats.binomtest(b, a + b, share).proportion_ci(0.95, method="exact")
        put(k + "lower", ci.low / (1 - ci.low) * t1 / t2)
        put(k + "upper", ci.high / (1 - ci.high) * t1 / t2 if ci.high < 1 else INF)


# --- dose --------------------------------------------------------------------------------------------------------------------------
def doses():
    import statsmodels
    import statsmodels.api as sm

    print("statsmodels", statsmodels.__version__)
    beetle = np.genfromtxt("dose_bliss_beetle.csv", delimiter=",", skip_header=1, comments="#")
    budworm = np.genfromtxt("dose_budworm_male.csv", delimiter=",", skip_header=1, comments="#")
    frames = np.array([(8, 10, 1), (9, 10, 3), (10, 10, 5), (11, 10, 8), (12, 10, 9)], float)
    apart = np.array([(8, 5, 0), (9, 5, 0), (10, 5, 5), (11, 5, 5)], float)
    tail, plus = special.log_ndtr, lambda z: np.logaddexp(0, z)
    links = dict(
        Probit=(tail, lambda z: tail(-z), lambda z: -0.5 * z * z - 0.5 * np.log(2 * np.pi), special.ndtri),
        Logit=(lambda z: -plus(-z), lambda z: -plus(z), lambda z: -plus(z) - plus(-z), special.logit),
    )
    fall = stats.chi2.ppf(0.95, 1)
    for name, d in (("beetle", beetle), ("budworm", budworm), ("frames", frames), ("apart", apart)):
        y, n, f = d[:, 0], d[:, 1], d[:, 2]
        for link, (lf, ls, ld, q) in links.items():
            if name != "apart":
                fam = sm.families.Binomial(link=getattr(sm.families.links, link)())
                r = sm.GLM(np.column_stack([f, n - f]), sm.add_constant(y), family=fam).fit(tol=1e-14)
                put(f"statsmodels/{name}/{link}/ed50", -r.params[0] / r.params[1]), put(f"statsmodels/{name}/{link}/spread", 1 / r.params[1])
                put(f"statsmodels/{name}/{link}/deviance", r.deviance)

            def ln(mu, ln_s, penalty):
                z = (y - mu) / np.exp(ln_s)
                v = (f * lf(z) + (n - f) * ls(z)).sum()
                if penalty:
                    w = n * np.exp(2 * ld(z) - lf(z) - ls(z))
                    x = np.column_stack([np.ones_like(y), y - y.mean()])
                    v += 0.5 * np.linalg.slogdet(x.T @ (w[:, None] * x))[1]
                return v

            for penalty in (False, True):
                if name == "apart" and not penalty:
                    continue
                k = f"dose/{name}/{link}/{'reduced' if penalty else 'ml'}/"
                x = polish(lambda t: -ln(t[0], t[1], penalty), [np.average(y, weights=n), np.log(y.std() / 2)])
                top = ln(*x, penalty)
                put(k + "ed50", x[0]), put(k + "spread", np.exp(x[1]))
                for p in (0.5, 0.9):
                    w = q(p)
                    prof = lambda e: best1(lambda t: ln(e - np.exp(t) * w, t, penalty), x[1], 0.1)
                    try:
                        lo, up = limits(lambda e: 2 * (top - prof(e)) - fall, x[0] + w * np.exp(x[1]), 0.2 * np.exp(x[1]))
                        put(k + f"{p}/lower", lo), put(k + f"{p}/upper", up)
                    except Exception as err:  # an open end
                        print(k, p, err)


if __name__ == "__main__":
    print(sys.version.split()[0], "numpy", np.__version__, "scipy", scipy.__version__)
    wanted = sys.argv[1:] or ["samples", "categories", "plans", "tolerance", "strengths", "turnbull", "doses", "with_lifelines"]
    for part in wanted:
        globals()[part]()
    with open("outside_values.csv", "w") as f:
        f.write("# made by outside_values.py; versions in SOURCE.md\nkey,value\n")
        for key, value in OUT:
            f.write(f"{key},{value!r}\n")
    print(len(OUT), "values")
