"""Lead drums: time from the drummer, place from the feet. At 120 a minute a beat is half a second, a bar two."""

from __future__ import annotations

import pytest

from liveassist.band.events import ClockSays, KeyDown, Told
from tests.band.rehearsing import QUAY, lift, nod, pedal, sounding_after

KICK, SNARE, HAT, STICKS, CRASH = 36, 38, 42, 37, 49


def strike(at: float, key: int, strength: int = 80) -> KeyDown:
    return KeyDown(at=at, heard=at, division="drums", key=key, strength=strength)


def clicks(start: float, number: int = 4, *, gap: float = 0.5, key: int = STICKS) -> list[KeyDown]:
    return [strike(start + gap * k, key) for k in range(number)]


def groove(start: float, beats: int, *, gap: float = 0.5) -> list[KeyDown]:
    """Kick and snare in turn, hats in eighths, in order of time."""
    strokes = []
    for beat in range(beats):
        at = start + gap * beat
        strokes += [strike(at, SNARE if beat % 2 else KICK), strike(at + 0.001, HAT), strike(at + gap / 2, HAT)]
    return strokes


def told(band) -> list[str]:
    return [action.text for action in band.done if isinstance(action, Told)]


def beats(band) -> list[float]:
    return [at for at, _ in band.beats()]


def walk(band, first: int, last: int, start: float, gap: float = 0.5) -> list:
    """The feet of some changes, to be sorted in among the strokes."""
    feet = []
    at = start
    for change in band.route.changes[first : last + 1]:
        key = 36 + (change.bass or 0)
        feet += [pedal(at, key), lift(at + 0.8 * float(change.length) * gap, key)]
        at += float(change.length) * gap
    return feet


def together(*parts) -> list:
    return sorted((event for part in parts for event in part), key=lambda event: event.at)


# -- counted in by sticks ---------------------------------------------------------------------------------------------


def test_four_clicks_start_the_song_in_their_tempo(rehearse):
    band = rehearse(lead="drums")
    band.hear(*clicks(1.0, gap=0.6), *groove(3.4, 8, gap=0.6))
    assert band.states()[:2] == ["count-in", "playing"]
    assert beats(band) == pytest.approx([3.4 + 0.6 * k for k in range(len(beats(band)))], abs=0.005)


def test_the_first_chord_sounds_with_the_drummer_not_with_the_clock(rehearse):
    band = rehearse(lead="drums")
    band.hear(*clicks(1.0), strike(3.03, KICK))
    assert band.places() == [(3.03, 0)]


def test_without_a_stroke_on_the_first_beat_the_song_begins_all_the_same(rehearse):
    band = rehearse(lead="drums")
    band.hear(*clicks(1.0))
    band.until(3.2)
    assert band.places() == [(3.05, 0)]


def test_eight_clicks_are_two_bars(rehearse):
    band = rehearse(lead="drums")
    band.hear(*clicks(1.0, 8), *groove(5.0, 4))
    assert band.places()[0][0] == pytest.approx(5.0, abs=0.01)


def test_two_slow_clicks_and_four_are_two_bars(rehearse):
    """1 . 2 . | 1 2 3 4."""
    band = rehearse(lead="drums")
    band.hear(strike(1.0, STICKS), strike(2.0, STICKS), *clicks(3.0), *groove(5.0, 4))
    assert band.places()[0][0] == pytest.approx(5.0, abs=0.01)


def test_clicks_in_half_time_are_doubled_to_the_charts_tempo(rehearse):
    band = rehearse(lead="drums")
    band.hear(*clicks(1.0, gap=1.0), *groove(5.0, 8))
    assert beats(band)[:4] == pytest.approx([5.0, 5.5, 6.0, 6.5], abs=0.01)


@pytest.mark.parametrize(
    ("meter", "bars", "number", "gap", "begins"),
    [
        pytest.param("3/4", "| D | Bm |]", 3, 0.5, 2.5, id="waltz-in-three"),
        pytest.param("3/4", "| D | Bm |]", 6, 0.5, 4.0, id="waltz-two-bars"),
        pytest.param("6/8", "| D | Bm |]", 4, 0.75, 4.0, id="six-eight-in-two"),
        pytest.param("6/8", "| D | Bm |]", 6, 0.25, 2.5, id="six-eight-in-six"),
        pytest.param("2/4", "| D | Bm |]", 4, 0.5, 3.0, id="two-four"),
    ],
)
def test_a_count_fits_the_meter(rehearse, meter, bars, number, gap, begins):
    unit = "quarter." if meter == "6/8" else "quarter"
    tempo = 80 if meter == "6/8" else 120
    band = rehearse(
        f"title = X\nkey = D\nmeter = {meter}\ntempo = {unit} {tempo}\n\n== Verse ==\n{bars}\n", lead="drums"
    )
    band.hear(*clicks(1.0, number, gap=gap), strike(begins, KICK))
    assert band.places() == [(begins, 0)]


@pytest.mark.parametrize(
    "strokes",
    [
        pytest.param(clicks(1.0, 3), id="three-clicks-in-four-four"),
        pytest.param([*clicks(1.0, 3), strike(3.0, STICKS)], id="uneven"),
        pytest.param(clicks(1.0, 8, key=KICK), id="kick"),
        pytest.param(groove(1.0, 8), id="a-groove"),
        pytest.param(clicks(1.0, 4, gap=3.0), id="too-slow"),
    ],
)
def test_what_is_no_count_starts_nothing(rehearse, strokes):
    band = rehearse(lead="drums")
    band.hear(*strokes)
    band.until(20.0)
    assert band.states() == []


def test_where_the_feet_lead_sticks_start_nothing(rehearse):
    band = rehearse()
    band.hear(*clicks(1.0), *groove(3.0, 4))
    assert band.states() == []


def test_presses_of_a_switch_count_in_too(rehearse):
    band = rehearse(lead="click")
    band.hear(*[nod(1.0 + 0.6 * k, "sticks") for k in range(4)])
    band.until(6.0)
    assert beats(band)[:3] == pytest.approx([3.45, 4.0, 4.6], abs=0.05)
    assert beats(band)[2] - beats(band)[1] == pytest.approx(0.6)


# -- the drummer has the pulse ------------------------------------------------------------------------------------------


def test_the_pulse_goes_with_the_drums_and_the_place_with_the_feet(rehearse):
    band = rehearse(lead="drums")
    feet = walk(band, 0, 8, 3.08, gap=0.5)  # feet that drag by 80 ms
    band.hear(*clicks(1.0), *together(groove(3.0, 34), feet))
    assert beats(band)[4:] == pytest.approx([3.0 + 0.5 * k for k in range(4, len(beats(band)))], abs=0.006)
    assert [change for _, change in band.places()][:9] == list(range(9))


def test_a_drummer_who_slows_down_takes_the_band_along(rehearse):
    band = rehearse(lead="drums", place="bars")
    strokes, at, gap, meant = [], 3.0, 0.5, []
    for beat in range(48):
        strokes += [strike(at, SNARE if beat % 2 else KICK), strike(at + gap / 2, HAT)]
        meant.append(at)
        at, gap = at + gap, gap * 1.001
    band.hear(*clicks(1.0), *strokes)
    off = [abs(told_at - at) for told_at, at in zip(beats(band), meant, strict=False)]
    assert max(off) < 0.020
    assert gap > 0.52


@pytest.mark.parametrize(
    "extra",
    [
        pytest.param([strike(7.0 + 0.083 * k, SNARE) for k in range(1, 12)], id="roll"),
        pytest.param([strike(7.0 + 0.5 * k + 0.2, SNARE, 25) for k in range(8)], id="ghost-notes-between-places"),
        pytest.param([strike(7.0 + 0.5 * k - 0.03, SNARE, 30) for k in range(1, 8)], id="grace-notes"),
        pytest.param([strike(7.0 + 0.5 * k + 0.02, KICK, 40) for k in range(8)], id="bouncing-pad"),
    ],
)
def test_what_is_no_beat_moves_little(rehearse, extra):
    band = rehearse(lead="drums", place="bars")
    band.hear(*clicks(1.0), *together(groove(3.0, 24), extra))
    assert beats(band) == pytest.approx([3.0 + 0.5 * k for k in range(len(beats(band)))], abs=0.015)


@pytest.mark.parametrize("every", [1, 2, 4])
def test_half_and_double_time_change_no_beat(rehearse, every):
    """After the count: strokes on every half beat, on every beat, on every other beat alone."""
    band = rehearse(lead="drums", place="bars")
    strokes = [strike(3.0 + 0.25 * k, SNARE if k // every % 2 else KICK) for k in range(0, 96, every)]
    band.hear(*clicks(1.0), *strokes)
    assert beats(band) == pytest.approx([3.0 + 0.5 * k for k in range(len(beats(band)))], abs=0.006)


def sixteenths(start: float, beats: int, *, gap: float, lilt: float = 0.0) -> list[KeyDown]:
    """Hats in sixteenths, the second and fourth of each beat late by a part of the beat; kick, snare, and a kick before it."""
    strokes = []
    for beat in range(beats):
        at = start + gap * beat
        strokes += [strike(at, SNARE if beat % 2 else KICK)]
        strokes += [strike(at + gap * (part / 4 + lilt * (part % 2)) + 0.001, HAT) for part in range(4)]
        strokes += [strike(at + gap * (0.75 + lilt) + 0.002, KICK)] * (1 - beat % 2)
    return sorted(strokes, key=lambda event: event.at)


@pytest.mark.parametrize("lilt", [0.0, 0.02, 0.04, 0.06])
def test_sixteenths_that_swing_do_not_pull_the_beat(rehearse, lilt):
    band = rehearse(lead="drums", place="bars")
    band.hear(*clicks(1.0, gap=0.4), *sixteenths(2.6, 36, gap=0.4, lilt=lilt))
    assert beats(band)[4:] == pytest.approx([2.6 + 0.4 * k for k in range(4, len(beats(band)))], abs=0.012)


@pytest.mark.parametrize("off", [-0.03, 0.03])
def test_a_count_that_was_a_little_off_is_made_good_in_fast_sixteenths(rehearse, off):
    """By three parts of a hundred: four clicks of a human hand are no better than that."""
    band = rehearse(lead="drums", place="bars")
    counted = clicks(2.6 - 4 * 0.4 * (1 + off), gap=0.4 * (1 + off))
    band.hear(*counted, *sixteenths(2.6, 36, gap=0.4))
    assert beats(band)[8:] == pytest.approx([2.6 + 0.4 * k for k in range(8, len(beats(band)))], abs=0.015)


def test_a_beat_that_is_left_out_is_told_all_the_same(rehearse):
    band = rehearse(lead="drums", place="bars")
    strokes = [stroke for stroke in groove(3.0, 24) if not 6.9 < stroke.at < 8.4]
    band.hear(*clicks(1.0), *strokes)
    assert beats(band) == pytest.approx([3.0 + 0.5 * k for k in range(len(beats(band)))], abs=0.006)


def test_a_late_foot_moves_no_beat_of_the_drummers(rehearse):
    """Bm comes 0.2 s late: its bar goes on in the drummer's beats."""
    band = rehearse(lead="drums", patience="0")
    band.hear(*clicks(1.0), *together(groove(3.0, 20), [pedal(3.0, 38), lift(5.1, 38), pedal(5.2, 47), lift(6.9, 47)]))
    assert (5.2, 1) in band.places()
    since = [at for at in beats(band) if at > 5.3]
    assert since == pytest.approx([5.5 + 0.5 * k for k in range(len(since))], abs=0.006)


def test_the_drummer_joins_a_song_that_the_feet_began(rehearse):
    band = rehearse(lead="drums")
    feet = walk(band, 0, 9, 1.0)
    band.hear(*together(feet, groove(5.06, 26)))
    assert "the drummer is heard: time from the drums" in told(band)
    since = [at for at in beats(band) if at > 8.0]
    assert since == pytest.approx([5.06 + 0.5 * round((at - 5.06) / 0.5) for at in since], abs=0.01)


def test_a_drummer_who_stops_is_told_and_the_feet_take_over(rehearse):
    band = rehearse(lead="drums")
    band.hear(*clicks(1.0), *together(groove(3.0, 8), walk(band, 0, 8, 3.0)))
    stopped = 3.0 + 7.5 * 0.5
    times = {action.text: action.at for action in band.done if isinstance(action, Told)}
    assert times["no drums: time goes on"] == pytest.approx(stopped + 4 * 0.5, abs=0.02)
    gone = "no drums: time from your feet until the drummer is back"
    assert times[gone] == pytest.approx(stopped + 8 * 0.5, abs=0.02)
    assert not band.band.pulse.followed
    band.hear(*together(groove(21.0, 12), walk(band, 9, 11, 21.0)))
    assert band.band.pulse.followed


def test_a_drummer_who_does_not_come_in_is_told_in_the_next_song_too(rehearse):
    """The first song was left after the silence had been told."""
    band = rehearse(lead="drums")
    band.hear(*clicks(1.0), *together(groove(3.0, 8), walk(band, 0, 8, 3.0)))
    band.hear(nod(12.0, "tacet"), nod(12.5, "ready"), *clicks(20.0), *walk(band, 0, 4, 22.0))
    again = [action.at for action in band.done if isinstance(action, Told) and action.text == "no drums: time goes on"]
    assert again[1:] == pytest.approx([21.5 + 4 * 0.5], abs=0.1)


def test_after_a_hold_the_foot_says_where_the_beats_are(rehearse):
    held = QUAY.replace("| D | Bm | G A | D |", "| D | Bm (hold) | G A | D |")
    band = rehearse(held, lead="drums")
    band.hear(*clicks(1.0), *together(groove(3.0, 5), [pedal(3.0, 38), lift(4.9, 38), pedal(5.0, 47), lift(8.0, 47)]))
    assert band.states()[-1] == "holding"
    band.hear(pedal(9.37, 43), *groove(9.37, 4))
    since = [at for at in beats(band) if at > 9.0]
    assert since == pytest.approx([9.37 + 0.5 * k for k in range(len(since))], abs=0.01)


# -- who leads changes by a nod -----------------------------------------------------------------------------------------


def test_a_nod_gives_the_time_to_the_drummer_and_back(rehearse):
    band = rehearse()
    feet = walk(band, 0, 6, 1.0)
    band.hear(*together(groove(1.0, 20), feet, [nod(5.2, "drums")]))
    assert band.band.pulse.followed
    assert "time from the drummer" in told(band)
    band.hear(nod(11.1, "feet"))
    assert not band.band.pulse.followed
    assert band.band.view().time_lead == "feet"


def test_a_nod_makes_the_pulse_a_steady_click(rehearse):
    band = rehearse()
    band.hear(*walk(band, 0, 2, 1.0), nod(5.6, "click"))
    period = band.band.pulse.period
    band.walk(3, 8, 6.03, late=(0.04, -0.03))
    assert band.band.pulse.steady
    assert band.band.pulse.period == period


@pytest.mark.parametrize("lead", ["drums", "click", "clock"])
def test_a_nod_before_the_song_says_who_will_lead(rehearse, lead):
    band = rehearse()
    band.hear(nod(0.5, lead))
    assert band.band.view().time_lead == lead
    assert sounding_after(band.done) == set()


# -- the click never wanders after the feet -----------------------------------------------------------------------------


def test_a_foot_out_of_time_moves_no_click(rehearse):
    band = rehearse(lead="click", click=True, patience="0")
    band.hear(pedal(1.0, 38), lift(5.25, 38))
    band.hear(pedal(5.3, 47), lift(7.15, 47))  # more than two seconds late, between two beats
    band.hear(pedal(7.2, 43), lift(8.1, 43))
    band.until(9.0)
    assert beats(band) == pytest.approx([1.0 + 0.5 * round((at - 1.0) / 0.5) for at in beats(band)], abs=1e-6)


# -- a MIDI clock ---------------------------------------------------------------------------------------------------------


def ticks(start: float, quarters: float, *, gap: float = 0.5, jitter: tuple[float, ...] = (0.0,)) -> list[ClockSays]:
    times = [start + gap / 24 * k + jitter[k % len(jitter)] for k in range(round(24 * quarters))]
    return [ClockSays(at=at, heard=at, what="tick") for at in times]


def says(at: float, what: str) -> ClockSays:
    return ClockSays(at=at, heard=at, what=what)


def test_a_clock_starts_the_song_and_keeps_its_time(rehearse):
    band = rehearse(time="clock", place="bars")
    band.hear(*ticks(0.5, 2, gap=0.6), says(1.69, "start"), *ticks(1.7, 12, gap=0.6))
    assert beats(band) == pytest.approx([1.7 + 0.6 * k for k in range(len(beats(band)))], abs=0.004)
    assert len(beats(band)) == 12


def test_the_jitter_of_a_clock_is_filtered_out(rehearse):
    band = rehearse(time="clock", place="bars")
    jitter = (0.0, 0.003, -0.002, 0.004, -0.004)
    band.hear(*ticks(0.5, 2, jitter=jitter), says(1.49, "start"), *ticks(1.5, 30, jitter=jitter))
    off = [at - (1.5 + 0.5 * k) for k, at in enumerate(beats(band))]
    assert max(off[4:]) - min(off[4:]) < 0.002


def test_a_clock_that_stops_is_told_and_the_music_goes_on(rehearse):
    band = rehearse(time="clock", place="bars")
    band.hear(*ticks(0.5, 2), says(1.49, "start"), *ticks(1.5, 8))
    band.until(12.0)
    assert told(band)[-1] == "the MIDI clock has stopped: time goes on as it was"
    assert beats(band) == pytest.approx([1.5 + 0.5 * k for k in range(len(beats(band)))], abs=0.004)
    assert beats(band)[-1] > 11.0
    band.hear(*ticks(12.01, 3))
    assert told(band)[-1] == "time from the MIDI clock"


def test_a_clock_that_stutters_is_told_and_time_goes_on_evenly(rehearse):
    band = rehearse(time="clock", place="bars")
    good = ticks(1.5, 20)
    late = [says(event.at + (0.012 if 100 < k < 140 and k % 2 else 0.0), "tick") for k, event in enumerate(good)]
    missing = [event for k, event in enumerate(late) if k not in (200, 201, 230)]
    band.hear(*ticks(0.5, 2), says(1.49, "start"), *missing)
    assert "the MIDI clock stutters: time goes on evenly" in told(band)
    assert beats(band) == pytest.approx([1.5 + 0.5 * k for k in range(len(beats(band)))], abs=0.008)


def test_stop_is_told_and_stops_nothing(rehearse):
    band = rehearse(time="clock", place="bars")
    band.hear(*ticks(0.5, 2), says(1.49, "start"), *ticks(1.5, 4), says(3.5, "stop"))
    band.until(6.0)
    assert "the MIDI clock says stop: the music goes on" in told(band)
    assert band.states()[-1] == "playing"


# -- at a breath ----------------------------------------------------------------------------------------------------------

BREATHED = QUAY.replace("| D | Bm | G A | D |", "| D | Bm (breath) | G A | D |")


def test_after_a_short_breath_drummer_and_foot_are_half_a_beat_later(rehearse):
    """The breath takes a quarter of a second: the drummer takes it, too, and nothing falls between the beats."""
    band = rehearse(BREATHED, lead="drums")
    feet = [pedal(3.0, 38), lift(4.9, 38), pedal(5.0, 47), lift(6.9, 47), pedal(7.25, 43), lift(8.2, 43)]
    band.hear(*clicks(1.0), *together(groove(3.0, 8), groove(7.25, 8), feet))
    since = [at for at in beats(band) if at > 7.1]
    assert since == pytest.approx([7.25 + 0.5 * k for k in range(len(since))], abs=0.012)


def test_a_drummer_who_plays_through_the_breath_keeps_the_beat(rehearse):
    """The foot comes 0.15 s late, the drummer does not."""
    band = rehearse(BREATHED, lead="drums")
    feet = [pedal(3.0, 38), lift(4.9, 38), pedal(5.0, 47), lift(6.9, 47), pedal(7.15, 43), lift(7.9, 43)]
    feet += [pedal(8.02, 45), lift(8.9, 45)]
    band.hear(*clicks(1.0), *together(groove(3.0, 20), feet))
    since = [at for at in beats(band) if at > 8.7]
    assert since == pytest.approx([9.0 + 0.5 * k for k in range(len(since))], abs=0.012)
