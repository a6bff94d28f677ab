import pytest

from pullcast.card import read_engine, read_engine_text
from pullcast.errors import CardError


def swap(text, old, new):
    assert old in text
    return text.replace(old, new)


SPOILED = [
    ('bore = "4.040 in"', 'bor = "4.040 in"', "card.toml:9: block.bor: this key is not known. Did you mean bore?"),
    ('bore = "4.040 in"', 'bor = "4.040 in"', "block.bore: this key is needed but missing. Add bore with its unit: "
     "mm, cm, in."),
    ('"4.040 in"', '"86 kg"', 'card.toml:9: block.bore: "86 kg" is a mass; a length fits: mm, cm, in.'),
    ('"4.040 in"', "4.04", "block.bore: 4.04 has no unit"),
    ('"4.040 in"', '"-4.040 in"', 'block.bore: "-4.040 in" is outside what can be (20 mm to 250 mm)'),
    ('"4.040 in"', '"4.040 mm"', "Is it in written as mm?"),
    ("value = 10.1, within = 0.1", "value = 101", "Is the decimal point misplaced (10.1)?"),
    ('"4.040 in"', "nan", "block.bore: nan is not a finite number"),
    ("value = 10.1, within = 0.1", "value = nan", "nan is not a finite number"),
    ("lambda = 0.87", "lambda = 12.6", "12.6 is an air-fuel ratio"),
    ("6, 5, 7, 2]\nbanks", "6, 5, 7, 7]\nbanks", "card.toml:13: block.firing_order: cylinder 7 is named twice"),
    ("[1, 8, 4, 3, 6, 5, 7, 2]", "[1, 3, 4, 2]", "4 cylinders are named but the engine has 8"),
    ("[2, 4, 6, 8]]", "[2, 4, 6, 6]]", "block.banks: the banks do not hold cylinders 1 to 8 once each"),
    ('from = "1500 rpm"', 'from = "0 rpm"', 'card.toml:38: run.from: "0 rpm" is outside what can be'),
    ("points = 15", "points = 0", "run.points: 0 is less than 1"),
    ("points = 15", "", "from, to and points must be given together"),
    ('"street_2v_v8"', '"street_v8"', 'class: "street_v8" is not a class of engine. Did you mean street_2v_v8?'),
    ('class = "street_2v_v8"\n', "", "class: this key is needed but missing"),
    ('"cams/v8_mild.toml"', '"cams/v8_mid.toml"', '"cams/v8_mid.toml": no such file. Did you mean v8_mild.toml'),
    ('"cams/v8_mild.toml"', '"/etc/hostname"', "an absolute path is refused"),
    ('"cams/v8_mild.toml"', '"C:/cam.toml"', "an absolute path is refused"),
    ('"cams/v8_mild.toml"', '"../../pyproject.toml"', "leaves the card's project folder"),
    ('"cams/v8_mild.toml"', '""', "this is not a file name"),
    ('"cams/v8_mild.toml"', "7", "7 is not a file name"),
    ('"cams/v8_mild.toml"', '"cams"', "this is a folder, not a card"),
    ('cam = "cams', 'camshaft = "cams', "parts.camshaft: this key is not known. Did you mean cam?"),
    ('"fuels/petrol_98.toml"', '"petroll"', 'card.toml:21: fuel.key: there is no fuel "petroll". Did you mean '
     'petrol?'),
    ("[limits]", "[[limits]]", "stands where a table is needed"),
    ('spark_at_speeds = "13 24 29 32 32 deg"', 'spark = "32 mm"',
     'burn.spark: "32 mm" is a length; an angle fits: deg, rad'),
    ("within = 0.1", "within = -0.1", "is negative"),
    ("within = 0.1", "withing = 0.1", "key 'withing' is not known"),
    ('preparation = "carburettor"', 'preparation = "carburetor"', "Did you mean carburettor?"),
    ('rod = "5.900 in"', 'rod = "2.0 in"', "cannot turn a stroke"),
    ('bore = "4.040 in"', "bore = 4.040 in", 'card.toml:9: not valid TOML'),
    ('bore = "4.040 in"', "bore = 4.040 in", 'A value with a unit is text: bore = "4.040 in".'),
    ('bore = "4.040 in"', 'bore = "4.040 in', "The closing quote is missing."),
    ('bore = "4.040 in"', 'bore = "4 in"\nbore = "4 in"', "card.toml:10: not valid TOML: cannot overwrite a value. "
     "This key is given twice."),
    ('cylinders = 8', 'cylinders = 13', "13 is more than 12"),
    ('cylinders = 8', 'cylinders = "eight"', '"eight" is not a whole number'),
    ('name = "Kestrel hill-climb V8"', 'name = 3', "3 is not text in quotes"),
]


@pytest.mark.parametrize(("old", "new", "words"), SPOILED)
def test_fault_is_named(base, faults, old, new, words):
    assert words in faults(swap(base, old, new))


def test_all_faults_come_at_once(base, faults):
    text = swap(swap(swap(base, '"4.040 in"', '"4.040 kg"'), '"3.500 in"', '"3.5"'), "lambda", "lamda")
    text = swap(text, '"exhausts/v8_headers_175.toml"', '"exhausts/none.toml"')
    message = faults(text)
    for key in ("block.bore", "block.stroke", "mixture.lamda", "parts.exhaust"):
        assert key in message
    lines = [int(line.split(":")[1]) for line in message.split("\n")]
    assert lines == sorted(lines)


def test_fault_in_a_part_names_its_file_and_line(tmp_path, base, configs):
    for name in ("engines", "cams", "heads", "intakes", "exhausts", "fuels", "days"):
        (tmp_path / name).mkdir()
        for f in (configs / name).glob("*.toml"):
            text = f.read_text(encoding="utf-8")
            if f.name == "v8_mild.toml":
                text = swap(text, 'lobe_lift = "0.320 in"', 'lobe_lift = "0.320 inches2"')
            (tmp_path / name / f.name).write_text(text, encoding="utf-8")
    with pytest.raises(CardError) as e:
        read_engine(tmp_path / "engines" / "hillclimb_v8.toml")
    assert "cams/v8_mild.toml:10: cam.intake.lobe_lift:" in str(e.value)
    assert str(tmp_path) not in str(e.value)


def test_part_given_twice(base, faults):
    assert "the cam is given twice" in faults(base + '\n[cam]\nname = "another"\n')


def test_odd_files(tmp_path, base, configs):
    def fault(raw):
        path = tmp_path / "x.toml"
        path.write_bytes(raw)
        with pytest.raises(CardError) as e:
            read_engine(path)
        return str(e.value)

    assert "x.toml: the card is empty" in fault(b"  \n")
    assert "x.toml:2: byte 0xff is not UTF-8 text" in fault(b'name = "a"\nb = "\xff"\n')
    assert "UTF-16" in fault("name = 1".encode("utf-16"))
    assert "more than 1000000" in fault(b"#" * 1_000_001)
    with pytest.raises(CardError, match="this is a folder"):
        read_engine(tmp_path)
    (tmp_path / "engine.toml").write_text("x")
    with pytest.raises(CardError, match=r"engne.toml: no such file. Did you mean engine.toml"):
        read_engine(tmp_path / "engne.toml")
    with pytest.raises(CardError, match="no folder"):
        read_engine(tmp_path / "none" / "x.toml")


def test_mark_and_line_ends_do_not_matter(tmp_path, four):
    plain = read_engine_text(four, tmp_path)
    for raw in (b"\xef\xbb\xbf" + four.encode(), four.replace("\n", "\r\n").encode()):
        path = tmp_path / "card.toml"
        path.write_bytes(raw)
        assert read_engine(path).block == plain.block


def test_symbolic_link_out_of_the_project_is_refused(tmp_path, four):
    root, outside = tmp_path / "project", tmp_path / "outside"
    (root / "engines").mkdir(parents=True)
    outside.mkdir()
    (outside / "cam.toml").write_text('name = "x"')
    (root / "cam.toml").symlink_to(outside / "cam.toml")
    text = four.replace("[cam]", "[parts]\ncam = \"cam.toml\"\n[camless]").split("[camless]")[0]
    with pytest.raises(CardError, match="leaves the card's project folder"):
        read_engine_text(text, root / "engines")


def test_text_of_the_engine_holds_every_file(base, read):
    engine = read(base)
    for name in ("card.toml", "cams/v8_mild.toml", "heads/v8_ported.toml", "days/aldermoor_spring.toml"):
        assert f"# ---- {name}" in engine.text
    assert base.strip() in engine.text


def test_stated_uncertainty_is_kept_as_a_range(base, read):
    ratio = next(a for a in read(base).assumed if a.key == "block.compression_ratio")
    assert (ratio.low, ratio.value, ratio.high) == pytest.approx((10.0, 10.1, 10.2))
    assert "card states" in ratio.why


def test_only_bore_and_stroke_are_needed(read):
    engine = read('name = "x"\nclass = "twin"\n[block]\nbore = "90 mm"\nstroke = "90 mm"\n')
    assert engine.block.cylinders == 2
    assert len(engine.assumed) > 60
    assert all(a.low <= a.value <= a.high for a in engine.assumed)
