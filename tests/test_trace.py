"""A temperature log is read, with remarks on what was repaired, or refused in one sentence."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stillroom.errors import InputError
from stillroom.product.trace import parse_trace, read_trace


def log(header: str, *rows: str) -> str:
    return "\n".join([header, *rows]) + "\n"


def refusal(text: str) -> str:
    with pytest.raises(InputError) as problem:
        parse_trace(text, "f.csv")
    message = str(problem.value)
    assert message.startswith("f.csv")
    assert message.endswith(".")
    assert "\n" not in message
    return message


@pytest.mark.parametrize(
    "text",
    [
        "time (s),jar (°C)\n0,20.5\n60,93.4\n",
        "time (s);jar (°C)\n0;20.5\n60;93.4\n",
        "time (s)\tjar (°C)\n0\t20.5\n60\t93.4\n",
        "time (s);jar (°C)\n0;20,5\n60,0;93,4\n",
        "time (s)\tjar (°C)\n0\t20,5\n60\t93,4\n",
        'time (s),jar (°C)\n0,"20,5"\n60,"93,4"\n',
        '"time (s)", "jar (°C)"\n"0", "20.5"\n"60", "93.4"\n',
        "time (s),jar (°C)\r\n0,20.5\r\n60,93.4\r\n",
        "time (s),jar (°C)\r0,20.5\r60,93.4",
        "\ufefftime (s),jar (°C)\n0,20.5\n60,93.4",
        "# a note, with a comma\n\ntime (s),jar (°C)\n\n0,20.5\n# another\n,,\n60,93.4\n\n",
        "time (s),jar (°C)\n0,20.5,\n60,93.4,,\n",
    ],
)  # fmt: skip
def test_separators_decimal_commas_line_ends_and_comments(text):
    trace = parse_trace(text)
    assert trace.time_s.tolist() == [0, 60]
    assert trace.temperature_C["jar"].tolist() == [20.5, 93.4]
    assert trace.remarks == ()


@pytest.mark.parametrize(
    ("header", "seconds"),
    [("time (min)", 60), ("time_s", 1), ("t [h]", 3600), ("Zeit s", 1), ("minutes", 60),
     ("Seconds", 1), ("Time, min", 60), ("t/s", 1), ("elapsed time (h)", 3600), ("time_min", 60),
     ("Zeit [min]", 60), ("elapsed seconds", 1), ("Messzeit (Stunden)", 3600), ("hours", 3600)],
)  # fmt: skip
def test_the_header_says_the_unit_of_time(header, seconds):
    trace = parse_trace(log(f"{header};jar °C", "2;20", "3;21", "4.5;22"))
    assert trace.time_s.tolist() == [0, seconds, 2.5 * seconds]


@pytest.mark.parametrize("header", ["time", "Time of day", "t", "Zeit", "Date/Time", "Time (UTC)"])
def test_plain_numbers_need_a_unit_of_time(header):
    assert refusal(log(f"{header},jar °C", "0,20", "1,21")) == (
        f"f.csv: column '{header}' does not say the unit of its numbers; "
        "call it 'time (min)' or 'time (s)'."
    )


@pytest.mark.parametrize(
    ("cells", "seconds"),
    [
        (["14:03", "14:04", "14:06"], [0, 60, 180]),
        (["14:03:20", "14:03:25", "14:04:00"], [0, 5, 40]),
        (["14:03:20.5", "14:03:20.75", "14:03:21,5"], [0, 0.25, 1]),
        (["11:59:50 AM", "12:00:10 PM", "1:00:00 pm"], [0, 20, 3610]),
        (["11:59:50 p.m.", "12:00:10 a.m.", "1:00:00 a.m."], [0, 20, 3610]),
        (["23:59:00", "24:30:00", "25:10:00"], [0, 1860, 4260]),
        (["99:59:59", "100:00:00", "123:00:00"], [0, 1, 82801]),
        (["23:59:50", "00:00:10", "00:00:20"], [0, 20, 30]),
        (["2026-05-03 14:03:20", "2026-05-03 14:03:25", "2026-05-04 00:00:00"], [0, 5, 35800]),
        (["2026-05-03T14:03:20", "2026-05-03T14:03:25", "2026-06-01T14:03:20"], [0, 5, 29 * 86400]),
        (["2026-03-29T01:59:00+01:00", "2026-03-29T03:01:00+02:00", "2026-03-29T01:02:00Z"], [0, 120, 180]),
        (["2026/5/3 2:03 PM", "2026/5/3 2:04 PM", "2026/5/3 2:06 PM"], [0, 60, 180]),
        (["03.05.2026 14:03", "03.05.2026 14:04", "03.05.2026 14:06"], [0, 60, 180]),
        (["05/03/2026 14:03", "05/03/2026 14:04", "05/03/2026 14:06"], [0, 60, 180]),
        (["13/05/26 23:59", "14/05/26 00:01", "14/05/26 00:02"], [0, 120, 180]),
        (["05/13/2026 11:59 PM", "05/14/2026 12:01 AM", "05/14/2026 12:02 AM"], [0, 120, 180]),
        (["31.12.2025 23:59", "01.01.2026 00:00", "01.01.2026 00:02"], [0, 60, 180]),
        (["03.05.2026 23:59", "04.05.2026 00:01", "04.05.2026 00:02"], [0, 120, 180]),
        (["1.2.26 23:59", "1.3.26 00:00", "1.4.26 00:00"], [0, 27 * 86400 + 60, 58 * 86400 + 60]),
        (["13-05-2026 23:59", "14-05-2026 00:01", "14-05-2026 00:02"], [0, 120, 180]),
    ],
)  # fmt: skip
@pytest.mark.parametrize("named", [True, False])
def test_clock_times_durations_and_dates(cells, seconds, named):
    rows = [f"{cell};{20 + n}" for n, cell in enumerate(cells)]
    trace = parse_trace(log("Time;jar °C", *rows) if named else "\n".join(rows))
    np.testing.assert_allclose(trace.time_s, seconds, atol=1e-6)
    assert [r.tolist() for r in trace.temperature_C.values()] == [[20, 21, 22]]


def test_each_midnight_adds_a_day_and_is_told():
    clocks = ["20:00:00", "08:00:01", "20:00:00", "07:00:00"]
    rows = [f"{clock},20" for clock in clocks]
    with pytest.raises(InputError, match="is before"):
        parse_trace(log("time,jar °C", "20:00:00,20", "08:00:00,20"))  # 12 h exactly
    trace = parse_trace(log("time,jar °C", "20:00:00,20", "07:59:59,20", *rows[2:]))
    assert trace.time_s.tolist() == [0, 43199, 86400, 126000]
    assert "midnights passed by the clock: 2" in trace.remarks


def test_a_clock_with_hours_only_to_the_minute_is_told():
    trace = parse_trace(log("time,jar °C", "0:10,20", "0:20,20"))
    assert trace.time_s.tolist() == [0, 600]
    assert trace.remarks == ("times such as '0:10' read as hours:minutes",)


@pytest.mark.parametrize("header", ["time (min)", "time [mm:ss]", "Zeit (min:s)", "time_s"])
def test_minutes_and_seconds_are_not_taken_for_hours(header):
    assert refusal(log(f"{header},jar °C", "12:30,20", "12:40,20")) == (
        f"f.csv: line 2, column '{header}': '12:30' could be hours:minutes or minutes:seconds; "
        "write it as 0:12:30."
    )
    assert parse_trace(log("time (hh:mm:ss),jar °C", "0:12:30,20", "0:12:40,20")).time_s[1] == 10


@pytest.mark.parametrize(
    ("header", "cells"),
    [("Date,Time", ["2026-05-03,23:59:50", "2026-05-04,00:00:10"]),
     ("No.,Time,Date", ["1,23:59:50,13.05.2026", "2,00:00:10,14.05.2026"]),
     ("Datum,Uhrzeit", ["13.05.2026,23:59:50", "14.05.2026,00:00:10"]),
     ("Datum,Uhrzeit", ["03.05.2026,23:59:50", "04.05.2026,00:00:10"]),
     ("Date,Time", ["05/13/2026,11:59:50 PM", "05/14/2026,12:00:10 AM"])],
)  # fmt: skip
def test_a_date_column_is_read_with_the_time(header, cells):
    trace = parse_trace(log(header + ",jar °C", *(c + ",20" for c in cells)))
    assert trace.time_s.tolist() == [0, 20]
    assert list(trace.temperature_C) == ["jar"]
    assert any("read together" in remark for remark in trace.remarks)
    assert not any("midnight" in remark for remark in trace.remarks)


def test_columns_without_names_are_read_by_their_cells():
    trace = parse_trace("2026-05-03;23:59:50;20;21\n2026-05-04;00:00:10;22;23\n")
    assert trace.time_s.tolist() == [0, 20]
    assert list(trace.temperature_C) == ["column 3", "column 4"]


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        (["14:05", "14:03"], "line 3, column 'time': '14:03' is before '14:05' on line 2; "),
        (["11:30:00", "00:30:00"], "line 3, column 'time': '00:30:00' is before '11:30:00' on line 2; "),
        (["25:10:00", "00:10:00"], "line 3, column 'time': '00:10:00' is before '25:10:00'"),
        (["2026-05-03 14:05", "2026-05-03 14:03"], "'2026-05-03 14:03' is before '2026-05-03 14:05'"),
        (["14:03:10", "14:61:00"], "line 3, column 'time': '14:61:00' is not a time such as 14:03:20."),
        (["14:03:10", "13:00:00 PM"], "'13:00:00 PM' is not a time"),
        (["14:03:10", ""], "line 3, column 'time': '' is not a time"),
        (["14:03:10", "12"], "'12' is not a time"),
        (["2026-05-03 14:03", "2026-02-30 14:03"], "line 3, column 'time': '2026-02-30 14:03' is not a date and time"),
        (["2026-05-03 14:03", "2026-05-03"], "'2026-05-03' is not a date and time"),
        (["13/05/2026 14:03", "05/13/2026 14:03"], "'05/13/2026 14:03' is not a date and time such as "
         "2026-05-31 14:03:20 or 31.05.2026 14:03, in one order throughout."),
        (["05/13/2026 14:03", "05/14/2026 14:03", "05/15/2026"], "line 4, column 'time': '05/15/2026' is not a date"),
        (["31.04.2026 14:03", "31.05.2026 14:03"], "line 2, column 'time': '31.04.2026 14:03' is not a date and time"),
        (["05.12.2026 14:03", "05.13.2026 14:03"], "line 3, column 'time': '05.13.2026 14:03' is not a date and time "
         "such as 2026-05-31 14:03:20 or 31.05.2026 14:03, "),
        (["03-05-2026 23:59", "04-05-2026 00:01"], "'03-05-2026 23:59' has day or month first"),
        (["03/05/2026 23:59", "04/05/2026 00:01"], "line 2, column 'time': '03/05/2026 23:59' has day or month "
         "first, and times depend on it; write dates as 2026-05-03."),
    ],
)  # fmt: skip
def test_times_that_cannot_be_used(cells, words):
    assert words in refusal(log("time,jar °C", *(c + ",20" for c in cells)))


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        (["0", "2", "1.5"], "line 4, column 'time (min)': '1.5' is before '2' on line 3; "
         "put the rows in order, or add dates."),
        (["0", "", "2"], "line 3, column 'time (min)': '' is not a time."),
        (["0", "1e400", "2"], "line 3, column 'time (min)': '1e400' is not a time."),
        (["0", "1", "end"], "line 4, column 'time (min)': 'end' is not a number"),
        (["0", "1", "14:03"], "line 4, column 'time (min)': '14:03' is not a number"),
    ],
)  # fmt: skip
def test_numbers_that_cannot_be_times(cells, words):
    assert words in refusal(log("time (min),jar °C", *(c + ",20" for c in cells)))


def test_several_readings_under_one_minute_are_spread_in_it():
    cells = ["14:03", "14:03", "14:04", "14:04", "14:04", "14:05", "14:07"]
    trace = parse_trace(log("time,jar °C", *(f"{c},{n}" for n, c in enumerate(cells))))
    assert trace.time_s.tolist() == [0, 30, 60, 80, 100, 120, 240]
    assert trace.temperature_C["jar"].tolist() == [0, 1, 2, 3, 4, 5, 6]
    assert any("spread evenly within the minute" in remark for remark in trace.remarks)


def test_equal_rows_count_once_and_unequal_ones_are_refused():
    rows = ["14:03:20,20,", "14:03:20,20,", "14:03:25,21,22"]
    trace = parse_trace(log("time,a °C,b °C", *rows))
    assert trace.time_s.tolist() == [0, 5]
    assert trace.temperature_C["a"].tolist() == [20, 21]
    assert "rows equal to the row above, counted once: 1" in trace.remarks
    rows[1] = "14:03:20,20,22"
    assert refusal(log("time,a °C,b °C", *rows)) == (
        "f.csv: line 3, column 'time': '14:03:20' is also the time of line 2, with other readings; "
        "give each its own."
    )
    assert "is also the time of line 2" in refusal(log("time (h),a °C", "0,20", "0,21", "1,22"))
    assert "has one reading only" in refusal(log("time (min),a °C", "0,20", "0,20"))


@pytest.mark.parametrize(
    ("header", "channel", "first_C"),
    [("jar 1 (°C)", "jar 1", 77), ("T1 [C]", "T1", 77), ("T_C", "T", 77), ("oil degC", "oil", 77),
     ("T_degC", "T", 77), ("Temp C", "Temp", 77), ("°C", "temperature", 77), ("T [°C] top", "T top", 77),
     ("T °C (top)", "T (top)", 77), ("jar Celsius", "jar", 77), ("T in ºC", "T in", 77), ("jar no. 3 °C", "jar no. 3", 77),
     ("jar 1 (°F)", "jar 1", 25), ("T_F", "T", 25), ("jar/F", "jar", 25), ("T degF", "T", 25),
     ("temperature F", "temperature", 25), ("jar (deg. Fahrenheit)", "jar", 25), ("jar Fahrenheit", "jar", 25),
     ("jar 1", "jar 1", 77), ("probe F", "probe F", 77), ("node 2", "node 2", 77), ("1", "1", 77),
     ("Barolo", "Barolo", 77)],
)  # fmt: skip
def test_the_header_says_the_unit_of_temperature(header, channel, first_C):
    trace = parse_trace(log(f"time (s),{header}", "0,77", "10,78"))
    assert list(trace.temperature_C) == [channel]
    assert trace.temperature_C[channel][0] == pytest.approx(first_C)
    told = "".join(trace.remarks)
    assert ("°F converted to °C" in told) == (first_C == 25)
    assert ("no unit in the header, °C assumed" in told) == (header == channel)


@pytest.mark.parametrize(("reading", "bounds"), [("140.1", "20 to 140.1"), ("-21", "-21 to 20")])
def test_readings_out_of_the_ordinary_need_a_unit(reading, bounds):
    rows = ["0,20", f"1,{reading}"]
    assert refusal(log("time (s),jar", *rows)) == (
        f"f.csv: column 'jar' reads {bounds} without a unit; say °C or °F in the header."
    )
    assert parse_trace(log("time (s),jar (°C)", *rows)).temperature_C["jar"][1] == float(reading)


@pytest.mark.parametrize(
    "name",
    ["Pressure (bar)", "pressure", "P mbar", "psi", "Humidity", "rh %", "Battery", "Volts", "No.", "Nr",
     "#", "Index", "record", "Record no", "F0 (min)", "Time (local)", "Date", "elapsed (h)"],
)  # fmt: skip
@pytest.mark.parametrize("first", [True, False])
def test_columns_that_are_no_temperature_are_left_out(name, first):
    header, rows = f"time (s),jar °C,{name}", ["0,20,1", "10,21,2"]
    if first and "ime" not in name and "elapsed" not in name:
        header, rows = f"{name},time (s),jar °C", ["1,0,20", "2,10,21"]
    trace = parse_trace(log(header, *rows))
    assert list(trace.temperature_C) == ["jar"]
    assert trace.remarks == (f"left out, not temperatures: '{name}'",)


def test_a_column_of_words_is_left_out_but_words_among_numbers_are_refused():
    trace = parse_trace(log("time (s),jar °C,event", "0,20,", "10,21,valve open"))
    assert trace.remarks == ("left out, not temperatures: 'event'",)
    assert refusal(log("\n\ntime (s),jar °C,oil", "0,20,20", "# x", "10,21,hot")) == (
        "f.csv: line 6, column 'oil': 'hot' is not a number; leave a missing reading empty."
    )
    assert "line 2, column 'jar °C': '20 C' is not" in refusal(
        log("time (s),jar °C", "0,20 C", "1,20 C")
    )


@pytest.mark.parametrize("text", ["9_3", "1.234,5", "1,2,3", "0x10", "20.5.1", "93 4", "12:30"])
def test_what_only_resembles_a_number_is_refused(text):
    assert f"column 'jar °C': {text!r} is not a number" in refusal(
        log("time (s);jar °C", "0;20", f"1;{text}")
    )


@pytest.mark.parametrize(
    "gap", ["", "-", "--", "NaN", "nan", "-nan", "n/a", "N/A", "err", "ERR", "OL", "open", " "]
)
def test_gaps_are_nan_and_counted(gap):
    trace = parse_trace(
        log(
            "time (s),a °C,b °C,c °C",
            f"0,20,{gap},{gap}",
            f"10,{gap},30,{gap}",
            f"20,22,{gap},{gap}",
        )
    )
    np.testing.assert_array_equal(trace.temperature_C["a"], [20, np.nan, 22])
    np.testing.assert_array_equal(trace.temperature_C["b"], [np.nan, 30, np.nan])
    assert trace.remarks == (
        "'a': readings missing: 1",
        "'b': readings missing: 2",
        "'c °C' has no readings and is left out",
    )


def test_cells_left_out_at_the_end_are_gaps_and_cells_too_many_are_refused():
    trace = parse_trace(log("time (s),a °C,b °C", "0,20,30", "10,21", "20,22,32,,"))
    np.testing.assert_array_equal(trace.temperature_C["b"], [30, np.nan, 32])
    assert refusal(log("time (s),a °C", "0,20", "# x", "10,20,5")) == (
        "f.csv: line 4 has 3 cells, the header has 2; with decimal commas, put a semicolon or tab "
        "between cells."
    )


@pytest.mark.parametrize(
    ("header", "reading"),
    [("jar °C", "200.1"), ("jar °C", "-60.1"), ("jar °F", "392.5"), ("jar °F", "-77"), ("jar", "-999"),
     ("jar", "850"), ("jar °C", "inf"), ("jar °C", "-1e999")],
)  # fmt: skip
def test_impossible_readings_are_refused(header, reading):
    assert refusal(log(f"time (s),{header}", "0,70", f"10,{reading}", "20,70")) == (
        f"f.csv: line 3, column '{header}': '{reading}' is not possible (-60 to 200 °C); "
        "leave the cell empty where a sensor failed."
    )


def test_long_times_without_a_reading_are_told():
    steps = [10] * 20 + [61] + [10] * 20 + [600] + [50]
    times = np.cumsum([0, *steps])
    trace = parse_trace(log("time (s),jar °C", *(f"{t},20" for t in times)))
    assert trace.remarks == (
        "no reading between 3.3 and 4.4 min",
        "no reading between 7.7 and 17.7 min",
    )
    times = np.cumsum([0, *[1, 1, 1, 61] * 9])
    trace = parse_trace(log("time (s),jar °C", *(f"{t},20" for t in times)))
    assert len(trace.remarks) == 6
    assert trace.remarks[-1] == "and 4 more gaps in time"


@pytest.mark.parametrize(
    "above",
    ["Logger 12\nSerial;123\nStarted: 2026-05-03, jar on top\n", "sep=;\nLogger;12\nInterval;10;s\n",
     "Run of May\n\n# x\nOperator;Anna;\nStart;2026-05-03 14:03\n"],
)  # fmt: skip
def test_free_text_above_the_header_is_skipped_and_told(above):
    trace = parse_trace(above + log("time (s);jar °C", "0;20,5", "10;21"))
    assert trace.temperature_C["jar"].tolist() == [20.5, 21]
    assert trace.remarks == ("lines skipped above the readings: 3",)
    lines = above.count("\n") + 3
    assert f"f.csv: line {lines}, column" in refusal(above + log("time (s);jar °C", "0;20", "1;x"))


def test_a_header_that_begins_with_a_hash_column_is_no_comment():
    assert parse_trace(log("#,time (s),jar °C", "1,0,20", "2,10,21")).time_s[1] == 10


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "f.csv is empty; a table has a line of column names and its readings."),
        ("\n \n# only a comment\n,,,\n", "f.csv is empty; a table has a line of column names and its readings."),
        ("time (s),jar °C\n", "f.csv has no readings below a line of column names; a row of readings begins "
         "with a number, clock time or date, then a comma, semicolon or tab."),
        ("20\n21\n22\n", "f.csv has no readings below a line of column names; a row of readings begins "
         "with a number, clock time or date, then a comma, semicolon or tab."),
        ("time (s),jar °C\n0,20\n", "f.csv has one reading only; a run has two or more."),
        ("14:03,20\n", "f.csv has one reading only; a run has two or more."),
        ("time (s),pressure\n0,1\n1,2\n", "f.csv has no temperature column; name one such as 'jar 1 (°C)'."),
        ("time (s),jar °C\n0,\n1,-\n", "f.csv has no temperature column; name one such as 'jar 1 (°C)'."),
        ("run,jar °C\n0,20\n1,20\n", "f.csv: no time among the columns 'run', 'jar °C'; call one 'time (min)' or 'time (s)'."),
        ("a note\n0,20\n1,21\n", "f.csv: line 2: the time has no unit, as no line of column names stands above; "
         "put one there, with names such as 'time (min)' and 'jar 1 (°C)'."),
        ("time (s),jar °C,jar °F\n0,20,68\n1,20,68\n", "f.csv: two columns are called 'jar'; name them apart."),
        ('time (s),jar °C\n0,20\n1,"20\n2,20\n', "f.csv: line 3: a quote is not closed."),
        ('time (s),jar °C\n0,20\n1,"20\n' + "2,20\n" * 60_000, "f.csv: line 3: a quote is not closed."),
    ],
)  # fmt: skip
def test_logs_without_a_run_are_refused(text, message):
    assert refusal(text) == message


TEXT = "time (s);Öl °C\n0;20,5\n10;21\n"


@pytest.mark.parametrize(
    ("encoding", "remarks"),
    [("utf-8", ()), ("utf-8-sig", ()), ("utf-16", ()),
     ("cp1252", ("the file is not UTF-8, read as cp1252 with ° Ö",)),
     ("latin-1", ("the file is not UTF-8, read as cp1252 with ° Ö",))],
)  # fmt: skip
def test_files_in_several_encodings(tmp_path, encoding, remarks):
    (tmp_path / "log.csv").write_bytes(TEXT.replace("\n", "\r\n").encode(encoding))
    trace = read_trace(str(tmp_path / "log.csv"))
    assert trace.temperature_C["Öl"].tolist() == [20.5, 21]
    assert trace.remarks == remarks


def test_files_that_are_no_log_are_refused(tmp_path):
    with (tmp_path / "big.csv").open("wb") as file:
        file.truncate(250_000_000)
    (tmp_path / "bytes.csv").write_bytes(bytes(range(256)))
    (tmp_path / "odd.csv").write_bytes(TEXT.encode("cp1252") + b"\xbf\xa4")
    (tmp_path / "wide.csv").write_bytes(TEXT.encode("utf-16-le"))
    (tmp_path / "half.csv").write_bytes(TEXT.encode("utf-16")[:-1])
    (tmp_path / "empty.csv").write_bytes(b"")
    for name, message in [
        ("big.csv", "has 250.0 MB; a table is below 200 MB."),
        ("bytes.csv", "is not text; save it as CSV in UTF-8."),
        ("odd.csv", "is not text; save it as CSV in UTF-8."),
        ("wide.csv", "is not text; save it as CSV in UTF-8."),
        ("half.csv", "is not text; save it as CSV in UTF-8."),
        ("empty.csv", "is empty; a table has a line of column names and its readings."),
        ("missing.csv", "does not exist."),
        ("", "is not a file; give the path of one table."),
    ]:
        with pytest.raises(InputError) as problem:
            read_trace(tmp_path / name)
        assert str(problem.value) == f"{tmp_path / name} {message}"


def clock(second: int) -> str:
    return f"{second // 3600 % 24:02d}:{second // 60 % 60:02d}:{second % 60:02d}"


def half_day(second: int) -> str:
    hour = second // 3600 % 24
    return f"{hour % 12 or 12}:{clock(second)[3:]} {'AM' if hour < 12 else 'PM'}"


TIMES = {
    "time (s)": str,
    "time (min)": lambda second: repr(second / 60),
    "t [h]": lambda second: repr(second / 3600),
    "clock": clock,
    "time of day": half_day,
    "Duration": lambda second: f"{second // 3600}:{clock(second)[3:]}",
    "Timestamp": lambda second: str(np.datetime64("2026-12-31") + np.timedelta64(second, "s")),
}


@settings(max_examples=200)
@given(
    rows=st.lists(
        st.tuples(st.integers(1, 40_000), st.integers(-2000, 14000), st.none() | st.integers(-2000, 14000)),
        min_size=2, max_size=30,
    ),
    start=st.integers(0, 86399),
    header=st.sampled_from(sorted(TIMES)),
    separator=st.sampled_from(",;\t"),
    decimal_comma=st.booleans(),
    unit=st.sampled_from([" (°C)", "_F", ""]),
)  # fmt: skip
def test_what_is_written_in_any_dialect_reads_back(
    rows, start, header, separator, decimal_comma, unit
):
    steps, a, b = zip(*rows, strict=True)
    seconds = start + np.cumsum([0, *steps[1:]])
    known = np.array([a, [np.nan if x is None else x for x in b]], dtype=float) / 100

    def cell(text: str) -> str:
        if not decimal_comma or "T" in text:
            return text
        return f'"{text.replace(".", ",")}"' if separator == "," else text.replace(".", ",")

    def shown(celsius: float) -> str:
        if np.isnan(celsius):
            return ""
        return cell(f"{celsius * 1.8 + 32:.4f}" if unit == "_F" else f"{celsius:.2f}")

    lines = [
        separator.join([cell(TIMES[header](int(s))), shown(x), shown(y)])
        for s, x, y in zip(seconds, *known, strict=True)
    ]
    trace = parse_trace(log(separator.join([header, "a" + unit, "b" + unit]), *lines))
    np.testing.assert_allclose(trace.time_s, seconds - seconds[0], atol=1e-5)
    assert (np.diff(trace.time_s) > 0).all()
    np.testing.assert_allclose(trace.temperature_C["a"], known[0], atol=1e-4)
    if not np.isnan(known[1]).all():
        np.testing.assert_allclose(trace.temperature_C["b"], known[1], atol=1e-4)


@given(
    st.text(max_size=120)
    | st.text(alphabet='time(s),;\t"\n0123456789.:-/#°CFT ', max_size=120)
    | st.lists(st.sampled_from(["time (s)", "time", "date", "T °C", "1", "2,5", "14:03", "2026-05-03", "-", '"', "\n", ",", ";"]), max_size=40).map("".join)
)  # fmt: skip
def test_any_text_is_read_or_refused_in_words(text):
    try:
        trace = parse_trace(text)
    except InputError as problem:
        assert str(problem).startswith("trace")
    else:
        assert (np.diff(trace.time_s) > 0).all()
        assert all(r.shape == trace.time_s.shape for r in trace.temperature_C.values())


def test_a_million_rows():
    clocks = [clock(second) for second in range(86400)]
    rows = [f"{clocks[second % 86400]},{second % 1000 / 10}" for second in range(1_000_000)]
    rows[500_000] = rows[500_000].replace(",0.0", ",")
    trace = parse_trace(log("time,jar (°C)", *rows))
    assert np.array_equal(trace.time_s, np.arange(1_000_000))
    assert trace.temperature_C["jar"][999_999] == 99.9
    assert np.flatnonzero(np.isnan(trace.temperature_C["jar"])).tolist() == [500_000]
