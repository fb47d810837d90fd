"""Writes travel.json: shortest minutes on 1,000 random directed graphs, by NetworkX.

Run from anywhere: python tests/reference/travel.py. The file it writes is committed; a test of
src/compute/travel.rs reads it.
"""

import json
import pathlib
import platform
import random

import networkx as nx

SEED = 20_301
GRAPHS = 1_000


def graph(rng: random.Random) -> dict:
    sites = rng.randint(2, 7)
    density = rng.choice([0.15, 0.3, 0.5])
    most = rng.choice([3, 12, 60])  # short legs make many ties, long ones make detours pay
    legs = [
        [a, b, rng.randint(0, most)]
        for a in range(sites)
        for b in range(sites)
        if a != b and rng.random() < density
    ]
    if legs and rng.random() < 0.2:  # the same way entered twice: the shorter one counts
        a, b, minutes = rng.choice(legs)
        legs.append([a, b, minutes + rng.randint(-min(minutes, 2), 2)])
    net = nx.MultiDiGraph()
    net.add_nodes_from(range(sites))
    for a, b, minutes in legs:
        net.add_edge(a, b, weight=minutes)
    lengths = dict(nx.all_pairs_dijkstra_path_length(net))
    minutes = [lengths[a].get(b, -1) for a in range(sites) for b in range(sites)]
    return {"n": sites, "legs": legs, "min": minutes}


def main() -> None:
    rng = random.Random(SEED)
    head = {
        "made_with": {"networkx": nx.__version__, "python": platform.python_version()},
        "seed": SEED,
        "fields": "n sites; legs [from, to, minutes]; min row by row, -1 = no way",
    }
    lines = [json.dumps(graph(rng), separators=(",", ":")) for _ in range(GRAPHS)]
    text = json.dumps(head)[:-1] + ', "graphs": [\n' + ",\n".join(lines) + "\n]}\n"
    (pathlib.Path(__file__).parent / "travel.json").write_text(text)


if __name__ == "__main__":
    main()
