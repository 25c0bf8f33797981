"""Whatever is thrown at the rig reader, it answers with a rig or a RigError of printable sentences."""

import copy
import tomllib

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from guidestar.errors import RigError
from guidestar.rig import PRESETS, preset, rig_from_dict
from guidestar.rig.build import SECTIONS
from guidestar.rig.read import parse_toml

KEYS = sorted({key for kind in SECTIONS.values() for key in kind.__annotations__} | {"side", "name", "prism_at_mm"})
SCALARS = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.sampled_from([10**400, -(10**400), 2**63, -(2**63) - 1])
    | st.floats(allow_nan=True, allow_infinity=True)
    | st.text()
    | st.binary()
    | st.dates()
    | st.sampled_from(["top", "left", "german", "Etc/UTC", "Europe", "", "\ud800", 0.0, 1, 2.5, 8.0, 50.0, 200.0])
)
NAMES = st.sampled_from([*SECTIONS, *KEYS]) | st.text() | st.integers() | st.none()
JUNK = st.recursive(
    SCALARS, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(NAMES, inner, max_size=6), max_leaves=12
)


def outcome(make):
    """Return the rig or the RigError that `make()` ends in; anything else fails the test."""
    try:
        result = make()
    except RigError as error:
        result = error
    if isinstance(result, RigError):
        assert result.faults
        assert all(fault.isprintable() for fault in result.faults)
        str(result).encode("utf-8")
    else:
        optional = ("site", "train")
        assert all(getattr(result, section) is not None for section in SECTIONS if section not in optional)
    return result


@settings(derandomize=True, deadline=None, max_examples=300)
@given(values=st.dictionaries(NAMES, JUNK, max_size=8))
@example(values={"train": {"parts": [{"name": "a", "length_mm": 1.0, "prism_at_mm": None}]}})
def test_junk_gives_a_rig_error_and_nothing_else(values):
    assert isinstance(outcome(lambda: rig_from_dict(values)), RigError)  # junk never happens to be a whole rig


@settings(derandomize=True, deadline=None, max_examples=400)
@given(
    name=st.sampled_from(sorted(PRESETS)),
    section=st.sampled_from([*SECTIONS]),
    key=st.sampled_from(KEYS) | st.text(),
    value=JUNK,
)
@example(
    name="refractor-480-f6", section="train", key="parts", value=[{"name": "a", "length_mm": 1, "prism_at_mm": None}]
)
def test_one_junk_value_in_a_sound_rig(name, section, key, value):
    values = copy.deepcopy({k: dict(v) if isinstance(v, dict) else v for k, v in PRESETS[name].items()})
    values.setdefault(section, {})[key] = value
    if section == "train":
        values["prism"].pop("ahead_mm")
    outcome(lambda: rig_from_dict(values))


@settings(derandomize=True, deadline=None, max_examples=200)
@given(path=st.sampled_from([f"{s}.{k}" for s in SECTIONS for k in KEYS]) | st.text(), value=JUNK)
def test_junk_changes_of_a_sound_rig(path, value):
    outcome(lambda: preset("compound-2000-f10").with_values({path: value}))


@settings(derandomize=True, deadline=None, max_examples=300)
@given(text=st.text() | st.text(alphabet="[]{}=\"'.,#\n ab1_"))
def test_any_text_is_toml_or_a_rig_error(text):
    try:
        expected = tomllib.loads(text)
    except ValueError:
        with pytest.raises(RigError) as caught:
            parse_toml(text)
        assert len(caught.value.faults) == 1
    else:
        assert parse_toml(text) == expected
