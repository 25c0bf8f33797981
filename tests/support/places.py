"""Twenty places for comparisons, chosen to be awkward: poles, right ascension 0, the plane, the galactic poles."""

PLACES = {
    "a galaxy away from the plane": (339.267, 34.416),
    "north pole": (123.0, 90.0),
    "south pole": (0.0, -90.0),
    "beside the north pole": (200.0, 89.7),
    "beside the south pole": (17.0, -89.9),
    "right ascension 0": (0.0, 12.3),
    "just before 24 h": (359.999, -5.0),
    "just after 0 h": (0.001, -70.0),
    "in the plane": (290.0, 11.0),
    "in the plane, south": (161.0, -59.7),
    "towards the centre": (266.4, -29.0),
    "north galactic pole": (192.86, 27.13),
    "south galactic pole": (12.86, -27.13),
    "equator": (45.0, 0.0),
    "dark dust": (68.0, 26.0),
    "a cluster": (56.75, 24.12),
    "high north": (140.0, 69.1),
    "mid south": (50.7, -37.2),
    "summer": (312.75, 30.7),
    "a corner of twelve base pixels": (45.0, 41.8103149),
}
