"""Lists of targets."""

import pytest

from guidestar.errors import InputError
from guidestar.sky.place import place
from guidestar.sky.targetlist import read_targets


def _read(tmp_path, content):
    path = tmp_path / "targets.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_targets(path)


def _short(rows):
    return [(row.number, row.text) for row in rows]


@pytest.mark.parametrize("header", ["name", "Target", "OBJECT", "notes,name,priority"])
def test_names_under_a_header(tmp_path, header):
    before = "a note," if "," in header else ""
    rows = _read(tmp_path, f"{header}\n{before}NGC 7331\n{before}m31\n")
    assert _short(rows) == [(2, "NGC 7331"), (3, "m31")]
    assert all(row.error is None and row.require_text() == row.text for row in rows)


@pytest.mark.parametrize(
    "content",
    [
        "ra,dec\n22 37 04.1,+34 24 56\n",
        "RA;Dec\n22:37:04.1;34:24:56\n",
        "ra\tdec\n22h37m04.1s\t34d24m56s\n",
        "dec,ra\n34 24 56,22 37 04.1\n",
        "ra_deg,dec_deg\n339.2670833333,34.4155555556\n",
        "ra,dec\n339.2670833333,34.4155555556\n",
        "22 37 04.1,34 24 56\n",
        "22 37 04.1 +34 24 56\n",
        "339.2670833333, 34.4155555556\n",
        "339.2670833333 34.4155555556\n",
        '"22 37 04.1, 34 24 56"\n',
        "my field,339.2670833333,34.4155555556\n",
        "name,ra,dec\nmy field,22 37 04.1,34 24 56\n",
        "ra_deg,name,dec_deg,ra,dec\n339.2670833333,my field,34.4155555556,,\n",
    ],
)
def test_coordinates_in_columns_or_in_one_cell(tmp_path, content):
    (row,) = _read(tmp_path, content)
    found = place(row.require_text())
    assert (found.ra_deg, found.dec_deg) == pytest.approx((339.26708333, 34.41555556), abs=1e-8)
    assert row.label == ("my field" if "my field" in content else "")


def test_without_a_header_the_first_cell_is_the_name(tmp_path):
    rows = _read(tmp_path, "NGC 7331,Pegasus,12.0\nPelican\n10,20\n")
    assert _short(rows) == [(1, "NGC 7331"), (2, "Pelican"), (3, "10, 20")]


def test_coordinates_count_before_the_name_and_the_name_where_they_are_missing(tmp_path):
    rows = _read(tmp_path, "name,ra,dec\nA,10,20\nM 31,,\nB,10,\n,,\nC\n")
    assert [(r.number, r.text, r.label) for r in rows] == [
        (2, "10, 20", "A"),
        (3, "M 31", ""),
        (4, "B, 10", "B"),
        (6, "C", ""),
    ]
    with pytest.raises(InputError, match=r'Only one of right ascension and declination .*"10"'):
        rows[2].require_text()


def test_bad_rows_keep_their_line_number_and_the_rest_is_done(tmp_path):
    rows = _read(tmp_path, '# my list\n\nname,notes\nM 31,x\n"M 33,y\n,z\n  # later\nM 51,\nM 31,again\n')
    assert [row.number for row in rows] == [4, 5, 6, 8, 9]
    assert [row.error is None for row in rows] == [True, False, False, True, True]
    with pytest.raises(InputError, match="quotation mark"):
        rows[1].require_text()
    with pytest.raises(InputError, match="neither a name nor coordinates"):
        rows[2].require_text()
    assert rows[1].text == '"M 33,y'


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_byte_order_mark_and_line_ends(tmp_path, ends):
    content = "\ufeffname" + ends + "NGC 7331" + ends + ends + "Cat’s Eye"
    assert _short(_read(tmp_path, content)) == [(2, "NGC 7331"), (4, "Cat’s Eye")]


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        ("", "is empty"),
        ("\n \n# only a note\n", "is empty"),
        ("\ufeff", "is empty"),
        ("name\n", "no rows"),
        ("name,ra,dec\n,,\n", "no rows"),
        ("name,ra\nx,10\n", 'only one of the columns "ra" and "dec"'),
        ("dec_deg\n10\n", 'only one of the columns "ra_deg" and "dec_deg"'),
        ("name,target\nx,y\n", 'two columns for "name"'),
        ("M 31\0\n", "not a text file"),
        (b"\x89PNG\r\n\x1a\n\xff\xfe", "not UTF-8 text"),
        ("M 31\n".encode("utf-16"), "not UTF-8 text"),
    ],
)
def test_files_that_are_no_list(tmp_path, content, reason):
    with pytest.raises(InputError, match=reason) as caught:
        _read(tmp_path, content)
    assert "targets.csv" in str(caught.value)


def test_missing_file_and_folder(tmp_path):
    with pytest.raises(InputError, match="There is no target list"):
        read_targets(tmp_path / "none.csv")
    with pytest.raises(InputError, match="cannot be read: Is a directory"):
        read_targets(tmp_path)


def test_a_list_with_one_bad_coordinate_row(tmp_path):
    """The row is good as a row; what is wrong with it comes out when it is looked up."""
    good, bad = _read(tmp_path, "ra_deg,dec_deg\n10,20\n22:37:04,+34\n")
    assert place(good.require_text()).ra_deg == 10.0
    with pytest.raises(InputError, match="cannot be used"):
        place(bad.require_text())
