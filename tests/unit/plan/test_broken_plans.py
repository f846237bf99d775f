"""Plans broken by one edit each: the message names place, value and cure.

Each case is the good plan with one text replaced. The messages must be exactly
as many as listed: one mistake is not to be reported by its consequences.
"""

import pytest


def case(name, old, new, *messages, file="plan.toml"):
    return pytest.param((old, new, file), messages, id=name)


OPENING = """[[openings]]
name = "hole"
of = "deck"
member = "D1"
kind = "hole"
centre = ["1 m", "1 m", "4.1 m"]
"""

LOCK = """[[locks]]
of = "cap"
on = "base"
by = "fid"
release = "4 mm"
ledges = [LEDGE]

[[slings]]"""


def lock_on(ledge):
    return LOCK.replace("LEDGE", "{ side = 'outside', bearing = '100 mm', " + ledge + " }")


BROKEN = [
    # ------------------------------------------------------------- quantities
    case(
        "missing-unit",
        'length = "4.5 m"',
        "length = 4.5",
        ['plan.toml: sections["base"].length', "unit missing", "got 4.5", '"4.5 m"'],
    ),
    case(
        "missing-unit-in-text",
        'length = "4.5 m"',
        'length = "4.5"',
        ['plan.toml: sections["base"].length', "unit missing", 'got "4.5"', '"4.5 m"'],
    ),
    case(
        "unit-of-another-kind",
        'length = "4.5 m"',
        'length = "4.5 kg"',
        ['plan.toml: sections["base"].length', '"4.5 kg"', "use one of m, mm"],
    ),
    case(
        "capital-M",
        'length = "4.5 m"',
        'length = "4.5 M"',
        ['plan.toml: sections["base"].length', '"4.5 M"', "use one of m, mm"],
    ),
    case(
        "decimal-comma",
        'length = "4.5 m"',
        'length = "4,5 m"',
        ['plan.toml: sections["base"].length', '"4,5 m"', "decimal point"],
    ),
    case(
        "not-a-number",
        'length = "4.5 m"',
        "length = nan",
        ['plan.toml: sections["base"].length', "nan", "with its unit"],
    ),
    case(
        "not-a-number-in-text",
        'length = "4.5 m"',
        'length = "nan m"',
        ['plan.toml: sections["base"].length', '"nan m"', "write a number and a unit"],
    ),
    case(
        "infinite",
        "worst_corner = 1.2\n\n[[lifts]]",
        "worst_corner = inf\n\n[[lifts]]",
        ['plan.toml: lifts["L1"].worst_corner', "got inf", "write a finite number"],
    ),
    case(
        "huge-number",
        'length = "4.5 m"',
        'length = "4500000 m"',
        ['plan.toml: sections["base"].length', '"4500000 m"', "10000 m"],
    ),
    case(
        "number-past-floating-point",
        'length = "4.5 m"',
        'length = "1e999 m"',
        ['plan.toml: sections["base"].length', '"1e999 m"', "10000 m"],
    ),
    case(
        "huge-whole-number",
        "parts = 4\n",
        f"parts = 0x{'F' * 5000}\n",
        ['plan.toml: tackles["four parts"].parts', "more than 300 digits", "12 or less"],
    ),
    case(
        "negative-size",
        'length = "4.5 m"',
        'length = "-4.5 m"',
        ['plan.toml: sections["base"].length', '"-4.5 m"', "greater than zero"],
    ),
    case(
        "negative-size-in-table",
        "base,BN2,girt,larch,150,",
        "base,BN2,girt,larch,-150,",
        ['members.csv: row 10, column "breadth [mm]"', '"-150 mm"', "greater than zero"],
        file="members.csv",
    ),
    case(
        "share-above-one",
        "24,110,95,400,75,2027-03-15,eye splice,\"maker's certificate for coil R3",
        "24,110,95,400,750,2027-03-15,eye splice,\"maker's certificate for coil R3",
        ['coils.csv: row 4, column "derating [%]"', '"750 %"', "not above 1 (100 %)"],
        file="coils.csv",
    ),
    case(
        "true-for-a-count",
        'leads = 2\nfall_length = "21 m"\nshortest = "1.2 m"\n',
        'leads = true\nfall_length = "21 m"\nshortest = "1.2 m"\n',
        ['plan.toml: tackles["four parts"].leads', "got true", "a whole number"],
    ),
    case(
        "count-out-of-range",
        "parts = 4\n",
        "parts = 0\n",
        ['plan.toml: tackles["four parts"].parts', "got 0", "write 1 or more"],
    ),
    # ------------------------------------------------------------- keys
    case(
        "misspelt-key",
        'swelling = "4 mm"',
        'sweling = "4 mm"',
        ['plan.toml: sections["base"].swelling', "missing", "a length with its unit, such as"],
        ['plan.toml: sections["base"].sweling', "unknown key", 'did you mean "swelling"?'],
    ),
    case(
        "key-of-the-plan-in-a-table",
        '[[tackles]]\nname = "four parts"',
        'limits = "limits.csv"\n[[tackles]]\nname = "four parts"',
        ['plan.toml: fit_out["finial"].limits', "unknown key", "above the first [table]"],
    ),
    case(
        "missing-table",
        '[plumb_line]\nx = "2 mm"\ny = "-1 mm"\n',
        "",
        ["plan.toml: plumb_line", "missing", "a table with x, y"],
    ),
    case(
        "text-for-a-table",
        '[plumb_line]\nx = "2 mm"\ny = "-1 mm"\n',
        "[[plumb_line]]\n",
        ["plan.toml: plumb_line", "got [", "a table with x, y"],
    ),
    case(
        "unknown-choice",
        'kind = "gantry"',
        'kind = "gallows"',
        ['plan.toml: fixtures["gantry"].kind', 'got "gallows"', 'one of "needle", "gantry"'],
    ),
    case(
        "unknown-step",
        '{ do = "float", section = "base", height = "50 mm" }',
        '{ do = "flaot", section = "base", height = "50 mm" }',
        ['plan.toml: stages["S1"].steps[#5]', '"flaot"', 'did you mean "float"?'],
    ),
    case(
        "step-that-says-nothing",
        '{ do = "float", section = "base", height = "50 mm" }',
        '{ section = "base" }',
        ['plan.toml: stages["S1"].steps[#5]', "does not say what to do", '"assemble"'],
    ),
    case(
        "step-without-its-height",
        '{ do = "lift", section = "base", to = "4.5 m" }',
        '{ do = "lift", section = "base" }',
        ['plan.toml: stages["S1"].steps[#6].to', "missing", "a length with its unit"],
    ),
    case(
        "point-of-two",
        'lugs = [["0.3 m", "0 m", "0.1 m"]',
        'lugs = [["0.3 m", "0 m"]',
        [
            'plan.toml: slings["finial bridle"].lugs[#1][#3]',
            "missing",
            "a length with its unit",
        ],
    ),
    case(
        "blank-name",
        'name = "Edda Morrow"',
        'name = " "',
        ["plan.toml: people[#1].name", "blank"],
    ),
    # ------------------------------------------------------------- names
    case(
        "unknown-section",
        '{ do = "assemble", section = "cap" }',
        '{ do = "assemble", section = "capp" }',
        ['stages["S2"].steps[#1].section', 'no section named "capp"', 'did you mean "cap"?'],
    ),
    case(
        "unknown-fixture",
        '{ do = "strike", fixture = "gantry" }',
        '{ do = "strike", fixture = "Gantry" }',
        ['stages["S1"].steps[#11].fixture', 'no fixture named "Gantry"', '"gantry"?'],
    ),
    case(
        "unknown-item",
        '{ do = "fit", item = "finial" }',
        '{ do = "fit", item = "final" }',
        ['stages["S4"].steps[#1].item', 'no fit-out item named "final"', '"finial"?'],
    ),
    case(
        "unknown-lift",
        'section = "cap", lift = "L2"',
        'section = "cap", lift = "L3"',
        ['stages["S3"].steps[#3].lift', 'no lift named "L3"', 'there is "L1", "L2"'],
    ),
    case(
        "lift-of-another-section",
        'section = "cap", lift = "L2"',
        'section = "cap", lift = "L1"',
        ['stages["S3"].steps[#3].lift', '"L1" lifts "base", not "cap"', 'a lift of "cap"'],
    ),
    case(
        "unknown-carrier",
        'section = "base", on = "needles"',
        'section = "base", on = "needle"',
        ['stages["S1"].steps[#9].on', 'named "needle"', 'did you mean "needles"?'],
    ),
    case(
        "unknown-tackle",
        'pattern = "four parts"',
        'pattern = "four part"',
        ['lifts["L1"].pattern', 'no tackle named "four part"', '"four parts"?'],
    ),
    case(
        "unknown-coil",
        "L2,SW2,SW,-1.08,-1.1,0.9,-1.08,-1.16,4.4,0,R6,K6",
        "L2,SW2,SW,-1.08,-1.1,0.9,-1.08,-1.16,4.4,0,R66,K6",
        ['lines.csv: row 15, column "coil"', 'no coil named "R66"', 'did you mean "R6"?'],
        file="lines.csv",
    ),
    case(
        "unknown-capstan",
        "L2,SW2,SW,-1.08,-1.1,0.9,-1.08,-1.16,4.4,0,R6,K6",
        "L2,SW2,SW,-1.08,-1.1,0.9,-1.08,-1.16,4.4,0,R6,6",
        ['lines.csv: row 15, column "capstan"', 'no capstan named "6"', 'did you mean "K6"?'],
        file="lines.csv",
    ),
    case(
        "unknown-lift-point",
        "L2,SW2,SW,-1.08,-1.1,0.9,-1.08,-1.16,4.4,0,R6,K6",
        "L2,SW2,WS,-1.08,-1.1,0.9,-1.08,-1.16,4.4,0,R6,K6",
        ['lines.csv: row 15, column "lift point"', 'no lift point of "cap" named "WS"'],
        file="lines.csv",
    ),
    case(
        "unknown-species",
        "cap,CNW,corner leg,oak",
        "cap,CNW,corner leg,Oak",
        ['members.csv: row 21, column "species"', 'no species named "Oak"', '"oak"?'],
        file="members.csv",
    ),
    case(
        "unknown-person",
        'in_charge = "Tobin Vale"',
        'in_charge = "Tobin Vail"',
        ['stages["S4"].in_charge', 'no person named "Tobin Vail"', '"Tobin Vale"?'],
    ),
    case(
        "unknown-crew",
        'crew = "framers"',
        'crew = "roofers"',
        ['activities["frame the cap"].crew', 'no crew named "roofers"', '"framers"'],
    ),
    case(
        "unknown-stage-of-slings",
        'stage = "S4"',
        'stage = "S5"',
        ['slings["finial bridle"].stage', 'no stage named "S5"', 'there is "S1", "S2"'],
    ),
    case(
        "overrule-by-a-stranger",
        "[[slings]]",
        '[[overrules]]\nlimit = "bury"\nsubject = "cap"\nvalue = "2 m"\nby = "Nobody"\n'
        'note = "sum 4"\n\n[[slings]]',
        ["plan.toml: overrules[#1].by", 'no person named "Nobody"', '"Edda Morrow"'],
    ),
    case(
        "overrule-without-a-number",
        "[[slings]]",
        '[[overrules]]\nlimit = "bury"\nsubject = "cap"\nvalue = "enough"\nby = "Tobin Vale"\n'
        'note = "sum 4"\n\n[[slings]]',
        ["plan.toml: overrules[#1].value", 'got "enough"', '"6.75 m"'],
    ),
    case(
        "unknown-shoe-member",
        '[[sections]]\nname = "cap"',
        'shoes = [{ member = "BX1", face = "north", running = "20 mm" }]\n\n'
        '[[sections]]\nname = "cap"',
        ['sections["base"].shoes["BX1"].member', 'no member of "base" named "BX1"'],
    ),
    case(
        "contact-that-matches-nothing",
        'marks = ["CNE", "CSE", "CSW", "CNW"]',
        'marks = ["CNE", "CSE", "Q*"]',
        ["plan.toml: contacts[#2].marks[#3]", '"Q*" matches no member of "cap"'],
    ),
    case(
        "duplicate-mark",
        "base,BS2,",
        "base,BN2,",
        [
            'members.csv: row 12, column "mark"',
            '"BN2" is already the mark',
            "give each its own",
        ],
        file="members.csv",
    ),
    case(
        "duplicate-name",
        'name = "needles"',
        'name = "deck"',
        ['fixtures["deck"].name', '"deck" is already the name', "give each its own"],
        ["contacts[#1].on", 'no section, fixture or fit-out item named "needles"'],
        ['stages["S1"].steps[#8].fixture', 'no fixture named "needles"'],
        ['stages["S1"].steps[#9].on', 'named "needles"'],
        ["locks[#1].on", 'no section or fixture named "needles"'],
        ["pads[#1].under", 'no fixture named "needles"'],
    ),
    case(
        "name-kept-for-the-shaft",
        'name = "deck"\nkind',
        'name = "shaft"\nkind',
        ['fixtures["shaft"].name', "kept for the shaft", "choose another name"],
        ['activities["frame the cap"].sheltered_by', 'no fixture named "deck"'],
        ['stages["S1"].steps[#12].fixture', 'no fixture named "deck"'],
        ['stages["S3"].steps[#1].fixture', 'no fixture named "deck"'],
    ),
    # ------------------------------------------------------------- order
    case(
        "stage-out-of-order",
        'title = "Base up and on its needles, gantry off, deck in"',
        'title = "Base up and on its needles, gantry off, deck in"\nafter = ["S4"]',
        ['stages["S1"].after', "the stages wait for each other", "break the ring"],
    ),
    case(
        "stage-after-itself",
        'after = ["S3"]',
        'after = ["S4"]',
        ['stages["S4"].after', "S4 after S4", "break the ring"],
    ),
    case(
        "stage-after-a-later-one",
        'after = ["S1"]',
        'after = ["S4"]',
        ['stages["S2"].after', "after", "break the ring"],
    ),
    # ------------------------------------------------------------- shapes
    case(
        "survey-not-rising",
        "\n6,",
        "\n3.5,",
        ['survey.csv: row 5, column "z [m]"', "3.5 m", "lowest first"],
        file="survey.csv",
    ),
    case(
        "shaft-without-width",
        "-1.999,2.005,",
        "-1.999,-2.005,",
        ['survey.csv: row 6, column "east [m]"', "-2.005 m", "check the signs"],
        file="survey.csv",
    ),
    case(
        "wall-head-above-survey",
        'wall_head = "10 m"',
        'wall_head = "11 m"',
        ["plan.toml: shaft.wall_head", "11 m", "0 m to 10 m"],
    ),
    case(
        "ledge-outside-survey",
        'wall_head = "10 m"',
        'wall_head = "10 m"\n'
        'ledges = [{ mark = "A", face = "north", foot = "9 m", head = "10.5 m" }]',
        ['plan.toml: shaft.ledges["A"].head', "10.5 m", "0 m to 10 m"],
    ),
    case(
        "member-without-length",
        "cap,CNW,corner leg,oak,150,150,-0.675,0.675,0,-0.675,0.675,4",
        "cap,CNW,corner leg,oak,150,150,-0.675,0.675,0,-0.675,0.675,0",
        ["members.csv: row 21", "is where the member starts", "needs a length"],
        file="members.csv",
    ),
    case(
        "member-outside-its-section",
        "cap,CNW,corner leg,oak,150,150,-0.675,0.675,0,-0.675,0.675,4",
        "cap,CNW,corner leg,oak,150,150,-0.675,0.675,0,-0.675,0.675,40",
        ['members.csv: row 21, column "end s [m]"', "40 m", "0 m to 4 m"],
        file="members.csv",
    ),
    case(
        "lift-point-above-the-head",
        '["0.9 m", "0.9 m", "0.9 m"]',
        '["0.9 m", "0.9 m", "9 m"]',
        ['sections["cap"].lift_points["NE"].at[#3]', "9 m", "0 m to 4 m"],
    ),
    case(
        "opening-without-a-width",
        "[[slings]]",
        OPENING + "[[slings]]",
        ['plan.toml: openings["hole"].clear_east', "missing", "clear width across the lines"],
    ),
    case(
        "opening-with-no-way-through",
        "[[slings]]",
        OPENING + 'clear_east = "1 m"\nclear_north = "1 m"\nclear_up = "1 m"\n\n[[slings]]',
        ['plan.toml: openings["hole"].clear_up', "no way through"],
    ),
    case(
        "opening-in-nothing",
        "[[slings]]",
        OPENING.replace('"D1"', '"D7"')
        + 'clear_east = "1 m"\ntackles = ["NE9"]\nlifts = ["L9"]\n\n[[slings]]',
        ['plan.toml: openings["hole"].member', '"D7"', 'there is "D1"'],
        ['plan.toml: openings["hole"].lifts[#1]', '"L9"', 'there is "L1"'],
    ),
    case(
        "opening-for-no-tackle",
        "[[slings]]",
        OPENING + 'clear_east = "1 m"\ntackles = ["NE9"]\n\n[[slings]]',
        ['plan.toml: openings["hole"].tackles[#1]', '"NE9"', "did you mean"],
    ),
    case(
        "opening-passed-by-nobody",
        "[[slings]]",
        OPENING + 'clear_east = "1 m"\npassed_by = "Tobin"\n\n[[slings]]',
        ['plan.toml: openings["hole"].passed_by', '"Tobin"', "did you mean"],
    ),
    case(
        "drawn-ledge-let-into-a-piece",
        "[[slings]]",
        lock_on("member = 'BNE', let_into = 'BNW'"),
        ["plan.toml: locks[#1].ledges[", "let_into", "only a ledge that is not drawn"],
    ),
    case(
        "ledge-let-into-nothing",
        "[[slings]]",
        lock_on("species = 'oak', grain = 'end', let_into = 'BNX'"),
        ["plan.toml: locks[#1].ledges[", "let_into", '"BNX"'],
    ),
    case(
        "section-as-wide-as-the-one-round-it",
        "cap,CNE,corner leg,oak,150,150,0.675,0.675,0,",
        "cap,CNE,corner leg,oak,150,150,1.675,0.675,0,",
        ['plan.toml: sections["cap"]', "reaches 1.75 m", '"base", which reaches 1.75 m'],
        file="members.csv",
    ),
    case(
        "survey-of-one-station",
        'survey = "survey.csv"',
        'survey = [{ z = "10 m", west = "-2 m", east = "2 m", south = "-2 m", north = "2 m" }]',
        ["plan.toml: shaft.survey", "one station", "two or more"],
        ["plan.toml: shaft.wall_head", "10 m is outside"],
    ),
    case(
        "survey-not-of-tables",
        'survey = "survey.csv"',
        'survey = [["0 m", "-2 m"]]',
        ["plan.toml: shaft.survey[#1]", 'got ["0 m", "-2 m"]', "z, west, east"],
    ),
    case(
        "no-survey-and-no-mesh",
        'survey = "survey.csv"\n',
        "",
        ["plan.toml: shaft.survey", "missing", "no mesh", "one or both"],
    ),
    case(
        "members-and-mesh",
        'swelling = "4 mm"',
        'swelling = "4 mm"\nmesh = { file = "survey.csv", unit = "m" }\ndensity = "9 kg/m^3"',
        ['sections["base"].mesh', "stands beside members", "keep one"],
    ),
    case(
        "lift-hung-from-itself",
        'hung_from = "base"',
        'hung_from = "cap"',
        ['lifts["L2"].hung_from', '"cap" cannot be hung from itself'],
    ),
    case(
        "section-locked-on-itself",
        'section = "cap", on = "bearers"',
        'section = "cap", on = "cap"',
        ['stages["S3"].steps[#7]', '"cap" is put on itself', "name what carries it"],
    ),
    case(
        "nest-outside-the-section",
        'length = "4.5 m"',
        'length = "4.5 m"\nnest_height = "4.6 m"',
        ['sections["base"].nest_height', "4.6 m", "below 4.5 m"],
    ),
    case(
        "section-without-anything",
        'members = "members.csv"\nswelling = "4 mm"',
        'swelling = "4 mm"',
        ['plan.toml: sections["base"]', "neither members nor mesh"],
        ['members.csv: row 2 (and 25 more rows), column "of"', '"base"'],
    ),
    case(
        "mesh-without-mass",
        'members = "members.csv"\nswelling = "4 mm"',
        'mesh = { file = "survey.csv", unit = "mm" }\nswelling = "4 mm"',
        ['sections["base"].mesh', "no mass", "density or weighed"],
        ['members.csv: row 2 (and 25 more rows), column "of"', '"base"'],
    ),
    case(
        "mesh-without-unit",
        'members = "members.csv"\nswelling = "4 mm"',
        'density = "600 kg/m^3"\nmesh = { file = "survey.csv" }\nswelling = "4 mm"',
        ['sections["base"].mesh.unit', "missing", 'one of "m", "mm"'],
        ['members.csv: row 2 (and 25 more rows), column "of"', '"base"'],
    ),
    case(
        "item-without-anything",
        'kind = "finial"',
        'kind = "finial"\nshell = { foot = "1 m", head = "1 m", half_foot = "1 m", '
        'half_head = "0 m", thickness = "10 mm", surface_density = "9 kg/m^2" }',
        ['fit_out["finial"].shell.head', "1 m is not above its foot"],
    ),
    # ------------------------------------------------------------- site and times
    case(
        "unknown-time-zone",
        'time_zone = "UTC-02:00"',
        'time_zone = "Hesterlow time"',
        ["plan.toml: site.time_zone", '"Hesterlow time"', '"UTC-02:00"'],
    ),
    case(
        "latitude-past-the-pole",
        'latitude = "51 deg"',
        'latitude = "510 deg"',
        ["plan.toml: site.latitude", "510 deg", "between -90 and 90"],
    ),
    case(
        "time-without-offset",
        "ends = 2027-05-11T16:00:00-02:00",
        "ends = 2027-05-11T16:00:00",
        ['activities["frame the cap"].ends', "no offset from UTC", "-02:00"],
    ),
    case(
        "seconds-for-a-time",
        "ends = 2027-05-11T16:00:00-02:00",
        "ends = 1810000000",
        ['activities["frame the cap"].ends', "1810000000", "2027-04-28T15:00:00-02:00"],
    ),
    case(
        "ends-before-it-starts",
        "ends = 2027-05-11T16:00:00-02:00",
        "ends = 2027-05-11T06:00:00-02:00",
        ['activities["frame the cap"].ends', "06:00:00", "not after it starts"],
    ),
    case(
        "unknown-state",
        'sheltered_by = "deck"',
        'sheltered_by = "deck"\nneeds = ["looked"]',
        ['activities["frame the cap"].needs[#1]', 'got "looked"', '"locked"'],
    ),
    case(
        "work-on-no-section",
        'place = "in the column"',
        'place = "on"',
        ['activities["frame the cap"].section', "missing", "write on which section"],
    ),
    # ------------------------------------------------------------- version
    case(
        "version-missing",
        "version = 1\n",
        "",
        ["plan.toml: version", "missing", "write 1"],
    ),
    case(
        "version-newer",
        "version = 1\n",
        "version = 2\n",
        ["plan.toml: version", "got 2", "version 1", "newer towerlift"],
    ),
    case(
        "version-never-was",
        "version = 1\n",
        "version = 0\n",
        ["plan.toml: version", "got 0", "no such version, write 1"],
    ),
    case(
        "version-in-words",
        "version = 1\n",
        'version = "one"\n',
        ["plan.toml: version", 'got "one"', "write 1"],
    ),
    # ------------------------------------------------------------- files
    case(
        "not-toml",
        "[plumb_line]",
        "[plumb_line",
        ["plan.toml: not TOML at line ", "correct it there"],
    ),
    case(
        "key-twice",
        'length = "4.5 m"',
        'length = "4.5 m"\nlength = "5 m"',
        ["plan.toml: a key or table is written twice, at line ", "keep one"],
    ),
    case(
        "no-such-table",
        'coils = "coils.csv"',
        'coils = "coil.csv"',
        ["plan.toml: coils", 'no file "coil.csv"', "check its name"],
    ),
    case(
        "folder-for-a-table",
        'coils = "coils.csv"',
        'coils = "."',
        ["plan.toml: coils", 'no file "."', "check its name"],
    ),
    case(
        "path-out-of-the-folder",
        'coils = "coils.csv"',
        'coils = "../coils.csv"',
        ["plan.toml: coils", '"../coils.csv"', "out of the plan's folder", "below it"],
    ),
    case(
        "absolute-path",
        'coils = "coils.csv"',
        'coils = "/coils.csv"',
        ["plan.toml: coils", '"/coils.csv"', "absolute path", "from the plan's own folder"],
    ),
    case(
        "windows-path",
        'coils = "coils.csv"',
        "coils = 'C:\\coils.csv'",
        ["plan.toml: coils", "C:\\coils.csv", "absolute path"],
    ),
    case(
        "column-missing",
        "material,diameter [mm],",
        "material,thickness [mm],",
        ["coils.csv: row 1", 'unknown column "thickness [mm]"'],
        ["coils.csv: row 1", 'column "diameter" missing', "a length with its unit"],
        file="coils.csv",
    ),
    case(
        "column-twice",
        "tag,material,diameter [mm],length [m]",
        "tag,material,length [mm],length [m]",
        ["coils.csv: row 1", '"length [m]" says the same as "length [mm]"', "keep one"],
        ["coils.csv: row 1", 'column "diameter" missing'],
        file="coils.csv",
    ),
    case(
        "column-in-a-wrong-unit",
        "breaking force [kN]",
        "breaking force [kg]",
        ['coils.csv: row 1: column "breaking force [kg]"', "use one of N, kN"],
        ["coils.csv: row 1", 'column "breaking_force" missing'],
        file="coils.csv",
    ),
    case(
        "half-a-point",
        "upper y [m],",
        "upper [m],",
        ['lines.csv: row 1: column "upper [m]"', '"upper x [m]"'],
        ["lines.csv: row 1", 'column "upper y [m]" missing'],
        file="lines.csv",
    ),
    case(
        "short-row",
        "K4,5,-9,0.3,1.5,85,3,1,150,0.6,8,0.5,8",
        "K4,5,-9,0.3,1.5,85,3,1,150,0.6,8,0.5",
        ["capstans.csv: row 5", "14 cells", "15 columns"],
        ["lines.csv: row 5", 'no capstan named "K4"'],
        ["lines.csv: row 13", 'no capstan named "K4"'],
        ["anchors.csv: row 2", 'no capstan named "K4"'],
        ["anchors.csv: row 3", 'no capstan named "K4"'],
        ["anchors.csv: row 4", 'no capstan named "K4"'],
        file="capstans.csv",
    ),
    case(
        "decimal-comma-in-table",
        "K4,5,-9,0.3,",
        "K4,5,-9,0,3,",
        ["capstans.csv: row 5", "16 cells (a decimal comma adds one)", "15 columns"],
        ["lines.csv: row 5", 'no capstan named "K4"'],
        ["lines.csv: row 13", 'no capstan named "K4"'],
        ["anchors.csv: row 2", 'no capstan named "K4"'],
        ["anchors.csv: row 3", 'no capstan named "K4"'],
        ["anchors.csv: row 4", 'no capstan named "K4"'],
        file="capstans.csv",
    ),
    case(
        "header-short-of-a-column",
        "tag,material,",
        "tag material,",
        ["coils.csv: row 1", 'unknown column "tag material"'],
        ["coils.csv: row 1", 'column "tag" missing'],
        ["coils.csv: row 1", 'column "material" missing'],
        ["coils.csv: every row has 10 cells and the header 9", "a header for every column"],
        file="coils.csv",
    ),
    case(
        "quoted-decimal-comma",
        "K4,5,-9,0.3,",
        'K4,5,-9,"0,3",',
        ['capstans.csv: row 5, column "barrel diameter [m]"', '"0,3"', "decimal point"],
        file="capstans.csv",
    ),
    case(
        "unit-in-header-and-cell",
        "K4,5,-9,0.3,",
        "K4,5,-9,0.3 m,",
        ['capstans.csv: row 5, column "barrel diameter [m]"', '"0.3 m"', "a bare number of m"],
        file="capstans.csv",
    ),
    case(
        "empty-cell",
        "K4,5,-9,0.3,",
        "K4,5,-9,,",
        ['capstans.csv: row 5, column "barrel diameter [m]"', "missing", "a length with"],
        file="capstans.csv",
    ),
    case(
        "no-unit-in-header-or-cell",
        "barrel diameter [m]",
        "barrel diameter",
        [
            'capstans.csv: row 1: column "barrel diameter"',
            "unit missing",
            '"barrel diameter [m]"',
        ],
        file="capstans.csv",
    ),
    case(
        "misspelt-owner-column",
        "of,tackle",
        "off,tackle",
        ['lines.csv: row 1: unknown column "off"', 'did you mean "of"?'],
        file="lines.csv",
    ),
    case(
        "row-of-nobody",
        "cap,CNW,corner leg,oak",
        "cup,CNW,corner leg,oak",
        ['members.csv: row 21, column "of"', '"cup"', 'did you mean "cap"?'],
        ["contacts[#2].marks[#4]", '"CNW" matches no member'],
        file="members.csv",
    ),
    case(
        "open-quotation-mark",
        "maker's certificate for coil R8, and a test pull of it\"",
        "maker's certificate for coil R8, and a test pull of it",
        ["coils.csv: row 9", "check the quotation marks"],
        file="coils.csv",
    ),
]


@pytest.mark.parametrize(("change", "messages"), BROKEN)
def test_one_edit_is_told_in_full(edit, problems, change, messages):
    edit(*change)
    found = problems()
    for fragments in messages:
        assert any(all(part in text for part in fragments) for text in found), (
            f"no message with {fragments} in:\n" + "\n".join(found)
        )
    assert len(found) == len(messages), "\n".join(found)


def test_ten_faults_are_all_told_at_once(edit, problems):
    edit('length = "4.5 m"', "length = 4.5")
    edit('latitude = "51 deg"', 'latitude = "51 m"')
    edit("parts = 4\n", "parts = 40\n")
    edit('crew = "framers"', 'crew = "framer"')
    edit('after = ["S3"]', 'after = ["S33"]')
    edit('wall_head = "10 m"', 'wall_head = "12 m"')
    edit("\n6,", "\n3.5,", "survey.csv")
    edit("base,BS2,", "base,BN2,", "members.csv")
    edit("cap,CNW,corner leg,oak", "cap,CNW,corner leg,elm", "members.csv")
    edit("K4,5,-9,0.3,", "K4,6,-11,,", "capstans.csv")
    found = "\n".join(problems())
    assert len(problems()) == 10, found
    for part in (
        'sections["base"].length',
        "site.latitude",
        'tackles["four parts"].parts',
        'no crew named "framer"',
        'no stage named "S33"',
        "shaft.wall_head",
        "survey.csv: row 5",
        "members.csv: row 12",
        'no species named "elm"',
        "capstans.csv: row 5",
    ):
        assert part in found
