# SPDX-License-Identifier: GPL-3.0-or-later
"""Statistics of the director's workbook by other ways than the program's: plain definitions, limits found by halving."""
import math
from fractions import Fraction

Z = 1.959963984540054  # of the normal, 0.975


def halve(low, high, is_low):
    """The point between where `is_low` stops to hold."""
    for _ in range(70):  # to the last digit of a double
        middle = (low + high) / 2
        low, high = (middle, high) if is_low(middle) else (low, middle)
    return (low + high) / 2


def wilson(these, n):
    """Both ends where a share p lies Z standard errors, taken at p, from these / n (Wilson 1927)."""
    if n == 0:
        return None
    share = these / n
    away = lambda p: abs(share - p) - Z * math.sqrt(p * (1 - p) / n)
    low = 0.0 if these == 0 else halve(0, share, lambda p: away(p) > 0)
    high = 1.0 if these == n else halve(share, 1, lambda p: away(p) <= 0)
    return share, low, high


def poisson_at_most(k, mean):
    """Chance of k or fewer."""
    if mean == 0:
        return 1.0
    return math.fsum(math.exp(i * math.log(mean) - mean - math.lgamma(i + 1)) for i in range(k + 1))


def rate(found, sessions):
    """Means for which `found` or more, or fewer, come 25 times in 1,000 (Garwood 1936)."""
    if sessions == 0:
        return None
    top = 10 * found + 50
    low = 0.0 if found == 0 else halve(0, found, lambda m: 1 - poisson_at_most(found - 1, m) < 0.025)
    high = halve(found, top, lambda m: poisson_at_most(found, m) > 0.025)
    return found / sessions, low / sessions, high / sessions


def student(df):
    """Student's t, 0.975: Simpson's rule over the density, then halving."""
    scale = math.exp(math.lgamma((df + 1) / 2) - math.lgamma(df / 2)) / math.sqrt(df * math.pi)
    density = lambda x: scale * (1 + x * x / df) ** (-(df + 1) / 2)

    def half(t, steps=400):  # between 0 and t
        h = t / steps
        inner = math.fsum((4 if i % 2 else 2) * density(i * h) for i in range(1, steps))
        return (density(0) + inner + density(t)) * h / 3
    return halve(0, 20, lambda t: half(t) < 0.475)


def trend(groups):
    """One slope through groups of (x, y), each with its own level: value and limits, or None. Deviations from each
    group's means; groups of one tell nothing."""
    groups = [group for group in groups if len(group) > 1]
    rows = sum(len(group) for group in groups)
    if not rows:
        return None
    sxx = sxy = syy = 0.0
    for group in groups:
        mx = math.fsum(x for x, _ in group) / len(group)
        my = math.fsum(y for _, y in group) / len(group)
        sxx += math.fsum((x - mx) ** 2 for x, _ in group)
        sxy += math.fsum((x - mx) * (y - my) for x, y in group)
        syy += math.fsum((y - my) ** 2 for _, y in group)
    slope, df = sxy / sxx, rows - len(groups) - 1
    if df == 0:
        return slope, None, None
    half = student(df) * math.sqrt(max(syy - slope * sxy, 0) / df / sxx)
    return slope, slope - half, slope + half


def discrimination(table, item):
    """Pearson's r of an item with the person's mean over the other items, each less its mean over all who have it; with
    Fisher's limits. `table`: a list of persons, each a list with None for holes."""
    columns = range(len(table[0])) if table else []
    means = [mean([row[j] for row in table if row[j] is not None]) for j in columns]
    pairs = []
    for row in table:
        others = [row[j] - means[j] for j in columns if j != item and row[j] is not None]
        if row[item] is not None and others:
            pairs.append((row[item] - means[item], mean(others)))
    n = len(pairs)
    if n < 3:
        return None
    mx, my = mean([x for x, _ in pairs]), mean([y for _, y in pairs])
    xx = math.fsum((x - mx) ** 2 for x, _ in pairs)
    yy = math.fsum((y - my) ** 2 for _, y in pairs)
    if xx < 1e-12 or yy < 1e-12:
        return None
    r = math.fsum((x - mx) * (y - my) for x, y in pairs) / math.sqrt(xx * yy)
    if n < 4 or abs(r) >= 1:
        return r, None, None
    half = Z / math.sqrt(n - 3)
    return r, math.tanh(math.atanh(r) - half), math.tanh(math.atanh(r) + half)


def mean(values):
    return math.fsum(values) / len(values) if values else None


def quartile(values, quarter):
    """Linear between the ordered values (Hyndman and Fan 1996, definition 7), exact; whole numbers are rounded half up."""
    ordered = sorted(values)
    place = Fraction(quarter * (len(ordered) - 1), 4)
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    exact = ordered[below] + (place - below) * (ordered[above] - ordered[below])
    return math.floor(exact + Fraction(1, 2))
