"""Object names from a name service on the network; the only part of the sky that opens a socket.

Astropy's resolver asks the Sesame service of the Centre de Données astronomiques de Strasbourg, which searches
SIMBAD, NED and VizieR. Only the name is sent.
"""

from __future__ import annotations

from http.client import HTTPException
from typing import Final

from guidestar.errors import DataError, InputError
from guidestar.sky.coordinates import Place

TIME_LIMIT_S: Final = 10.0
"""How long one server may keep us waiting; there are two, the service and its mirror."""

_UNKNOWN: Final = "Unable to find coordinates"  # how astropy begins its message for a name nobody knows


def resolve_online(name: str, *, time_limit_s: float = TIME_LIMIT_S) -> Place:
    """Ask the network for the place of an object.

    Parameters
    ----------
    name : str
        Anything that SIMBAD, NED or VizieR knows.
    time_limit_s : float
        Seconds to wait for a server's next answer, for each of the service's servers.

    Returns
    -------
    Place
        ICRS degrees at J2000; a star's proper motion is not applied.

    Raises
    ------
    InputError
        No service knows the name.
    DataError
        The network failed, or the answer makes no sense.
    """
    from astropy.coordinates.name_resolve import NameResolveError, get_icrs_coordinates
    from astropy.utils.data import conf

    try:
        with conf.set_temp("remote_timeout", time_limit_s):
            found = get_icrs_coordinates(name)
    except NameResolveError as error:
        if str(error).startswith(_UNKNOWN):
            raise InputError(
                f'No object named "{name}" is known offline or to the name service on the network: '
                'give another name, or coordinates as "RA DEC".'
            ) from error
        raise _failure(name, error) from error
    except (OSError, HTTPException, ValueError) as error:
        raise _failure(name, error) from error
    return Place(name, float(found.ra.deg) % 360.0, float(found.dec.deg), "object of an online name service")


def _failure(name: str, error: Exception) -> DataError:
    why = " ".join(str(error).split()) or type(error).__name__
    return DataError(
        f'The name service on the network did not answer for "{name}" ({why}): try again later, '
        'or give coordinates as "RA DEC".'
    )
