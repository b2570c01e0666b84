"""What befell each invented tree, from the one that needs little to the truly dangerous."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["STORIES", "Story"]


@dataclass(frozen=True, slots=True)
class Story:
    """How an invented tree was neglected, hurt or spared. All values are judgement.

    ``reach`` and ``leaf`` scale limb length and crown density; ``sturdy`` thickens and shortens
    the laterals; ``heavy_arm`` stretches one scaffold limb (0: none); the two hollow shares are
    sound wall over radius (0: no cavity), ``hollow_far_share`` that across from the limb's thinnest
    (0: the same all round), ``hollow_stem_open_deg`` how much of the stem's shell is gone.
    """

    kind: str
    girth_cm: tuple[float, float] = (105.0, 170.0)
    scaffolds: tuple[int, int] = (3, 6)
    most_limbs: int = 17
    watershoots: int = 2
    crossing: int = 1
    reach: float = 1.0
    leaf: float = 1.0
    sturdy: float = 1.0
    heavy_arm: float = 0.0
    split: str = ""
    hollow_wall_share: float = 0.0
    hollow_far_share: float = 0.0
    hollow_stem_share: float = 0.0
    hollow_stem_open_deg: float = 0.0
    dead: int = 0
    diseased: int = 0
    broken: bool = False
    lean_deg: float = 0.0
    lean_bearing_deg: float = 0.0
    keeps: tuple[str, ...] = ()
    condition: str = "fair"
    extension_cm: float = 15.0
    dead_pct: float = 5.0
    planted: tuple[int, int] = (1905, 1955)
    features: str = ""
    faults: str = ""


WOODPECKER = "woodpecker hole, in use"
BATS = "deep cavity, bats may roost: have it looked at first"
MISTLETOE = "mistletoe the owner wants kept"
LICHEN = "old lichens on the upper side"

CONGESTED = Story("congested", most_limbs=19, watershoots=4, crossing=2, faults="congested middle")
ORDINARY = Story("ordinary", most_limbs=14)
TOP_HEAVY = Story("top-heavy", heavy_arm=1.2, dead=1, faults="long heavy limbs", dead_pct=8.0)

STORIES: dict[str, Story] = {
    "congested": CONGESTED,
    "congested, kept for wildlife": Story(
        "congested",
        most_limbs=20,
        watershoots=3,
        crossing=2,
        dead=2,
        keeps=(WOODPECKER, LICHEN),
        features="woodpecker hole; lichens",
        faults="congested middle; rubbing limbs",
        dead_pct=12.0,
    ),
    "ordinary": ORDINARY,
    "top-heavy": TOP_HEAVY,
    "split": Story(
        "dangerous",
        girth_cm=(125.0, 165.0),
        scaffolds=(3, 4),
        most_limbs=16,
        heavy_arm=1.35,
        split="cracked",
        leaf=1.15,
        crossing=1,
        condition="fair",
        extension_cm=20.0,
        faults="crack below a main union; overlong limb",
        dead_pct=6.0,
    ),
    "hollow arm": Story(
        "dangerous",
        girth_cm=(130.0, 180.0),
        scaffolds=(3, 4),
        most_limbs=15,
        heavy_arm=1.3,
        split="included",
        hollow_wall_share=0.22,
        leaf=1.1,
        dead=1,
        condition="poor",
        extension_cm=8.0,
        faults="hollow limb; bark in a union",
        dead_pct=15.0,
    ),
    "torn": Story(
        "dangerous",
        girth_cm=(110.0, 150.0),
        heavy_arm=1.3,
        split="cracked",
        hollow_wall_share=0.3,
        broken=True,
        dead=1,
        condition="poor",
        extension_cm=12.0,
        faults="hanging broken limb; crack",
        dead_pct=12.0,
    ),
    "included": Story(
        "included union",
        scaffolds=(3, 4),
        split="included",
        most_limbs=14,
        faults="bark in a main union",
    ),
    "leaning": Story(
        "leaning",
        lean_deg=20.0,
        lean_bearing_deg=65.0,
        heavy_arm=1.15,
        most_limbs=14,
        faults="leans, root plate to be looked at",
    ),
    "veteran": Story(
        "veteran",
        girth_cm=(200.0, 220.0),
        scaffolds=(3, 4),
        most_limbs=15,
        watershoots=3,
        reach=0.75,
        leaf=0.8,
        hollow_wall_share=0.4,
        hollow_far_share=0.8,
        hollow_stem_share=0.35,
        hollow_stem_open_deg=40.0,
        dead=3,
        diseased=1,
        keeps=(WOODPECKER, BATS, MISTLETOE),
        condition="poor",
        extension_cm=5.0,
        dead_pct=30.0,
        planted=(1850, 1880),
        features="hollow stem; woodpecker hole; bat-like cavity; mistletoe",
        faults="dying back from the top",
    ),
    "young": Story(
        "young",
        girth_cm=(44.0, 54.0),
        scaffolds=(4, 4),
        most_limbs=11,
        watershoots=1,
        crossing=0,
        reach=0.8,
        leaf=0.65,
        sturdy=1.2,
        condition="good",
        extension_cm=40.0,
        dead_pct=0.0,
        planted=(2006, 2011),
    ),
    "cankered": Story(
        "cankered",
        diseased=3,
        dead=2,
        most_limbs=16,
        condition="poor",
        extension_cm=8.0,
        dead_pct=20.0,
        faults="canker",
    ),
    "mistletoe": Story(
        "mistletoe",
        most_limbs=17,
        watershoots=3,
        dead=1,
        keeps=(MISTLETOE,),
        features="mistletoe",
        dead_pct=8.0,
    ),
    "small": Story(
        "ordinary",
        girth_cm=(90.0, 112.0),
        scaffolds=(3, 5),
        most_limbs=13,
        watershoots=2,
        crossing=1,
        dead=1,
        planted=(1950, 1970),
        faults="crowded",
    ),
    "small, torn": Story(
        "dangerous",
        girth_cm=(90.0, 112.0),
        scaffolds=(3, 4),
        most_limbs=12,
        heavy_arm=1.3,
        split="cracked",
        broken=True,
        dead=1,
        condition="poor",
        extension_cm=10.0,
        dead_pct=15.0,
        planted=(1945, 1965),
        faults="crack below a main union; hanging broken limb",
    ),
}
