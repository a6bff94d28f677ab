"""Rank the parts on the V8's shelf, then plan the day on the dyno. All cards are invented; see them."""

from pathlib import Path

import pullcast as pc

SHELF = Path(__file__).parents[1] / "configs" / "shortlists" / "hillclimb_shelf.toml"


def main(samples: int = 32):
    """The ranking and the day (about two minutes on two cores)."""
    ranking = pc.rank(pc.read_shortlist(SHELF), samples=samples)
    day = pc.plan(ranking, names=[ranking.places[0].name], noise=0.005, refit=0.002)
    return ranking, day


if __name__ == "__main__":
    ranking, day = main()
    print(ranking)
    print(ranking.influence)
    print(pc.plan_markdown(day))
    pc.ranking_figure(ranking).savefig("shelf.png", dpi=150)
