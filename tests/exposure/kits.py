"""Invented kits of three to ten filters, with strengths that lie off their labels."""

from audit.kit.kit import Kit

NEUTRALS = ((3, 0.26), (6, 0.28), (10, 0.25), (2, 0.06), (4, 0.05), (15, 0.05), (1, 0.02), (8, 0.03))


def some_kit(rng, count=None):
    """(kit, true stops of each filter by id); neutrals, at most one polariser, grads."""
    count = int(rng.integers(3, 11)) if count is None else count
    filters, true = [], {}
    if rng.random() < 0.65:
        filters.append({"id": "pol", "kind": "polariser", "round": True})
        true["pol"] = 1.5
    grads = int(rng.binomial(max(count - 2, 0), 0.35))
    for number in range(grads):
        stops = int(rng.choice([2, 3, 4], p=[0.45, 0.45, 0.1]))
        kind = str(rng.choice(["grad-hard", "grad-soft"]))
        filters.append({"id": f"g{number}", "kind": kind, "stops": float(stops)})
        true[f"g{number}"] = float(stops)
    while len(filters) < count:
        number = len(filters)
        used = {f.get("stops") for f in filters if f["kind"] == "neutral"}
        label = _strength(rng, used)
        written = {"stops": label}
        if rng.random() < 0.3:
            written = {"density": round(0.3 * label, 1)}
        filters.append({"id": f"n{label:g}-{number}", "kind": "neutral", **written})
        true[f"n{label:g}-{number}"] = label + rng.normal(0, 0.07 + 0.02 * label)
    holders = [{"id": "main", "slots": int(rng.choice([2, 3])), "front_ring_mm": 98.0}]
    kit = {
        "body": [{"name": "A", "model": "Brattholm Tarn"}, {"name": "B", "model": "Brattholm Beck"}],
        "holder": holders,
        "filter": filters,
    }
    return Kit.model_validate(kit), true


def _strength(rng, used):
    """A label, seldom one that the kit holds already."""
    labels, shares = zip(*NEUTRALS, strict=True)
    for _ in range(4):
        label = float(rng.choice(labels, p=shares))
        if label not in used:
            break
    return label
