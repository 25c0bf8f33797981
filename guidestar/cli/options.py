"""Options that several commands share, each worded once."""

from __future__ import annotations

import click

from guidestar.errors import InputError

rig_file = click.option(
    "--rig", "rig_path", metavar="FILE", required=True, help="The rig file (TOML); see 'guidestar rig new'."
)
target_list = click.option(
    "--targets", metavar="FILE", help="A CSV list of names or coordinates instead of one target."
)
faintest_mag = click.option(
    "--faintest-mag", type=float, metavar="G", help="Count every star down to this G; no light is reckoned."
)
min_stars = click.option(
    "--min-stars", type=int, metavar="N", help="How many stars are wanted at once, instead of the rig's."
)
exposure = click.option("--exposure", type=float, metavar="SECONDS", help="Guide exposure, instead of the rig's.")
airmass = click.option(
    "--airmass", type=float, metavar="X", help="1 at the zenith, 2 at 30° altitude, instead of the rig's."
)
sky = click.option("--sky", type=float, metavar="V", help="Sky brightness, V mag/arcsec², instead of the rig's.")
equinox = click.option(
    "--equinox", type=click.Choice(["J2000", "date"]), default="J2000", help="What typed coordinates mean."
)
online_names = click.option("--online-names", is_flag=True, help="Ask a name service on the network for unknown names.")
star_data = click.option(
    "--stars", type=click.Choice(["auto", "tycho2", "store"]), default="auto", help="Which star data to use."
)
store = click.option(
    "--store", metavar="DIR", help="Folder of the local star store  [GUIDESTAR_STORE, else your data folder]"
)


def two_numbers(option: str, text: str, what: str, example: str) -> tuple[float, float]:
    """Read an option's two numbers, which have a comma between them; `what` names them in the error's sentence."""
    try:
        first, second = (float(part) for part in text.split(","))
    except ValueError as error:
        raise InputError(f'{option} "{text}": give {what} with a comma between, such as {example}.') from error
    return first, second
