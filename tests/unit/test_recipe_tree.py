"""Files that are no recipe at all: broken, hostile, or not there. Lines of what is."""

from pathlib import Path

import pytest

from texbake.errors import UserError
from texbake.recipe import load, loads
from texbake.recipe.tree import MAX_BYTES, find, parse, resolve, walk

PATH = Path("ferry.yaml")
CLOTH = "garment: vest\nmesh: vest.obj\nfabric: plain\n"


def told(text: str) -> str:
    with pytest.raises(UserError) as caught:
        loads(text, PATH)
    assert caught.value.path == PATH
    return f"{caught.value.line}: {caught.value.what} | {caught.value.fix}"


BROKEN = [
    ("", "1: the recipe is empty", "garment, mesh, fabric and colour"),
    ("# only a comment\n", "1: the recipe is empty", "garment"),
    ("~\n", "1: the recipe is empty", "garment"),
    ("- garment: vest\n", "1: a recipe is a mapping of keys, not a list", "begin with garment"),
    ("\njust words\n", "2: a recipe is a mapping of keys, not 'just words'", "begin with"),
    ("a: 1\n---\nb: 2\n", "2: a second document begins", "take the --- out"),
    ("a:\n\tb: 1\n", "2: this is not YAML: found character '\\t'", "indent with spaces"),
    ("a: [1, 2\n", "1: this is not YAML: expected ',' or ']'", "brackets"),
    ("a: 'x\n", "1: this is not YAML: found unexpected end", "quotes"),
    ("a: 1\n b: 2\n", "2: this is not YAML: mapping values are not allowed", "indentation"),
    ("a: b: c\n", "1: this is not YAML: mapping values are not allowed", "colons"),
    ("a: 1\nb: \x07\n", "2: character '\\x07' is not allowed in YAML", "delete it"),
    ("a: !!python/name:os.system x\n", "1: tag 'tag:yaml.org,2002:python/name:os", "no tags"),
    ("a: *b\n", "1: *b repeats nothing", "write &b in front"),
    ("a: &a [*a]\n", "1: *a repeats nothing", "ends before this line"),
    (CLOTH + "\nx: {thread: #fff, rows: 2}\n", "5: #fff has no quotes", '("#fff")'),
    (CLOTH + "x: {a: {b: 1,\n  c: #a1b2c3},\n  d: 1}\n", "5: #a1b2c3 has no quotes", '"#a1b2c3"'),
]


@pytest.mark.parametrize(("text", "start", "part"), BROKEN)
def test_broken_text_is_told_with_its_line(text: str, start: str, part: str) -> None:
    message = told(text)
    assert message.startswith(start), message
    assert part in message, message


def test_nesting_is_limited() -> None:
    assert told("a: " + "[" * 5000).startswith("1: nested too deeply")
    deep = "".join(f"{' ' * k}a:\n" for k in range(25))
    assert told(deep).startswith("21: nested too deeply")


def test_aliases_cannot_multiply_without_end() -> None:
    rows = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    rows += [f"a{k}: &a{k} [{', '.join([f'*a{k - 1}'] * 9)}]" for k in range(1, 12)]
    message = told("\n".join(rows))
    assert "too many values" in message
    assert "20000" in message


def test_many_values_are_refused() -> None:
    assert "too many values" in told("a: [" + "1," * 30_000 + "1]")


@pytest.mark.parametrize(
    ("key", "what"), [("301", "301"), ("true", "true"), ("[a]", "a list"), ("~", "nothing")]
)
def test_keys_must_be_text(key: str, what: str) -> None:
    assert told(f"{CLOTH}{key}: 1\n").startswith(f"4: a key must be text, not {what}")


def test_long_keys_and_long_numbers_are_told_in_short() -> None:
    message = told(f"{CLOTH}? {'k' * 300}\n: 1\n")
    assert message.startswith("4: key 'kkk")
    assert "at most 200 characters" in message
    message = told(f"{CLOTH}fabrics: {{f: {{weave: twill {'1' * 5000}/2}}}}\n")
    assert message.startswith("4: fabrics.f.weave: 'twill 111")
    assert len(message) < 300


def test_a_colour_without_quotes_as_a_key_is_told() -> None:
    message = told(CLOTH + "fabrics:\n  f:\n    knit: rib 1x1\n    yarn: {melange: {#fff: 1}}\n")
    assert message.startswith("7: ")


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="there is no such file"):
        load(tmp_path / "none.yaml")


def test_a_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="this is a folder"):
        load(tmp_path)


def test_a_file_that_is_too_large_is_told(tmp_path: Path) -> None:
    path = tmp_path / "large.yaml"
    path.write_bytes(b"#" * (MAX_BYTES + 1))
    with pytest.raises(UserError, match="too large"):
        load(path)
    with pytest.raises(UserError, match="too large"):
        loads("#" * (MAX_BYTES + 1), PATH)


def test_a_byte_that_is_not_utf8_is_told_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "latin.yaml"
    path.write_bytes(b"garment: vest\nmesh: caf\xe9.obj\n")
    with pytest.raises(UserError, match="byte 0xe9 is not UTF-8") as caught:
        load(path)
    assert caught.value.line == 2
    assert "save the file as UTF-8" in caught.value.fix


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_byte_order_mark_and_line_ends_of_other_systems_are_read(
    tmp_path: Path, ending: str
) -> None:
    path = tmp_path / "vest.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + CLOTH.replace("\n", ending).encode())
    assert load(path).recipe.lines["fabric"] == 3


def test_scalars_follow_the_core_schema_of_yaml_1_2() -> None:
    # YAML 1.2.2, section 10.3.2, and its example 10.9.
    words = ["on", "yes", "12:30", "2001-01-01", "0o14", "0xFF", "-0", "1e3", ".5", "null", "True"]
    values = ["on", "yes", "12:30", "2001-01-01", 12, 255, 0, 1000.0, 0.5, None, True]
    assert [resolve(word) for word in words] == values


def test_quoted_scalars_are_text() -> None:
    tree, _ = parse("a: '1'\nb: \"true\"\nc: |\n  2\n", PATH)
    assert [tree.value[k].value for k in "abc"] == ["1", "true", "2\n"]


def test_every_value_knows_its_line_in_blocks_and_in_brackets() -> None:
    text = (
        "# first\na:\n  - 1\n\n  # between\n  - {b: 2,\n     c:\n       3}\nd: # note\n"
        "  e: 4\nf:\n\n# after\ng: #fff\n"
    )
    tree, problems = parse(text, PATH)
    lines = {".".join(map(str, at)): node.line for at, node in walk(tree) if at}
    assert problems == []
    assert lines == {"a": 3, "a.0": 3, "a.1": 6, "a.1.b": 6, "a.1.c": 8, "d": 10, "d.e": 10} | {
        "f": 11,
        "g": 14,
    }
    keys = {".".join(map(str, at)): node.key_line for at, node in walk(tree) if at}
    assert (keys["a"], keys["a.1.c"], keys["d"], keys["f"], keys["g"]) == (2, 7, 9, 11, 14)
    swallowed = find(tree, ("g",))
    assert swallowed is not None
    assert swallowed.swallowed == "#fff"


def test_a_place_that_is_not_there_is_not_found() -> None:
    tree, _ = parse("a: [1]\n", PATH)
    assert find(tree, ("a", 1)) is None
    assert find(tree, ("a", "b")) is None
    assert find(tree, ("b",)) is None
