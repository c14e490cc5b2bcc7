"""Every figure: right content, alternative text, clear refusals, no text outside the picture."""

import io

import numpy as np
import pytest
from matplotlib.image import imread
from matplotlib.text import Text

from simkit import view
from simkit.engines.api import Trace
from simkit.netlist.types import make
from simkit.view import style
from simkit.view.timing import _all_marks, _lanes


def trace(name, *changes):
    return Trace(name, np.array([t for t, _ in changes], np.int64), np.array([v for _, v in changes], np.int64))


LATE = trace("relay", (0, 0), (219, 1), (1000, 0))
RIGHT = trace("relay", (0, 0), (230, 1), (1000, 0))
COUNT = trace("over", (0, 0), (40, 1), (120, 2), (600, 40))
STATE = trace("state", (0, 0), (100, 1), (140, 2), (400, 0))
LEVEL = Trace("level", np.arange(0, 1100, 10), (8000 * np.sin(np.arange(110) / 12)).astype(np.int64))
FREQUENCY = np.linspace(0, 500, 501)


def lines(at=24, height=2.0):
    amplitude = np.full(501, 1e-3)
    amplitude[at] = height
    return amplitude


def full_timing():
    rows = [
        view.Level(LATE, expected=RIGHT),
        (COUNT, make("unsigned", 8)),
        view.States(STATE, names=["idle", "scale", "store"]),
        view.Curve(LEVEL, type=make("sfixed", 13, -4), unit="m/s²"),
        view.Turns(np.array([0, 200, 400, 700]), np.array([150, 260, 690, 780]), 200, "watch"),
    ]
    marks = [(219, 1000), (40, "first sample"), (120, 125), (1080, "last")]
    return view.timing_diagram(
        rows, 0, 1100, ("tick", "us"), tick_s=25e-9, marks=marks, cursors=[300, 640], title="Relay"
    )


FIGURES = {
    "timing": full_timing,
    "schedule": lambda: view.schedule(
        [view.Part("read", 0, 780, True, "guard.py:12"), view.Part("scale", 780, 1), view.Part("rms", 781, 34)],
        1000,
        tick_s=25e-9,
        title="Turn",
        turns=view.Turns(np.array([0, 1000]), np.array([815, 2815]), 1000, "watch"),
    ),
    "histogram": lambda: view.histogram(np.array([781, 782, 781, 785]), expected=781.25, compare=np.array([780, 781])),
    "spectrum": lambda: view.spectrum(
        FREQUENCY, {"A": lines(), "B": lines(50)}, cursors={"1×": 24, "2×": 48}, title="B"
    ),
    "spectrum in panels": lambda: view.spectrum(
        FREQUENCY, {"A": lines(), "B": lines(50)}, start=1, panels=True, title="B"
    ),
    "waterfall": lambda: view.waterfall(
        FREQUENCY,
        np.arange(5.0),
        np.stack([lines(i * 9 + 5) for i in range(5)]),
        orders=[1, 2],
        turning_hz=np.arange(5) * 9 + 5.0,
        title="Run-up",
    ),
    "bode": lambda: view.bode(
        np.linspace(1, 10, 50), 1 / (25 - np.linspace(1, 10, 50) ** 2 + 1j), marks={"resonance": 5}
    ),
    "balance": lambda: view.balance_plot(
        {"original": 6 + 1j, "trial": -2 + 3j}, weights={"trial": 10, "right": -8j}, limit=1.8, title="Fan B"
    ),
    "queue": lambda: view.queue_level(COUNT, 40, tick_s=25e-9, lost=[601, 620], expected=STATE, title="Queue"),
    "path": lambda: view.critical_path(
        [view.PathStep("a", 0.5), view.PathStep("add", 1.9, "level.py:14", 0.6)], 2.0, title="Path"
    ),
    "usage": lambda: view.usage_bars(
        {"LUT": 1240, "multiplier": 180}, {"LUT": 24288, "multiplier": 28}, compare={"LUT": 9000}
    ),
}


@pytest.fixture(params=FIGURES)
def figure(request):
    return FIGURES[request.param]()


def test_a_figure_has_alternative_text_that_tells_something(figure):
    assert len(figure.alt) > 40 and any(c.isdigit() for c in figure.alt)


def test_no_text_leaves_the_picture_or_is_tiny(figure):
    figure.png(1)
    box = figure.bbox
    for text in figure.findobj(Text):
        if text.get_text().strip() and text.get_visible() and not text.get_clip_on() and text.get_in_layout():
            extent = text.get_window_extent()
            assert text.get_fontsize() >= 7.9, text
            assert extent.x0 >= box.x0 - 2 and extent.x1 <= box.x1 + 2, (text.get_text(), extent)
            assert extent.y0 >= box.y0 - 2 and extent.y1 <= box.y1 + 2, (text.get_text(), extent)


def test_a_picture_in_a_notebook_carries_its_text(figure):
    data, metadata = figure._repr_mimebundle_()
    assert data["text/plain"].endswith(figure.alt)
    assert 'alt="' in data["text/html"] and metadata["image/png"]["alt"] == figure.alt


@pytest.mark.parametrize("name", ["any", "light", "dark"])
def test_paper_of_the_themes(name):
    style.use_theme(name)
    try:
        image = imread(io.BytesIO(FIGURES["usage"]().png(1)))
    finally:
        style.use_theme("any")
    corner = image[2, 2]
    assert {"any": corner[3] == 0, "light": min(corner) > 0.99, "dark": max(corner[:3]) < 0.1 and corner[3] == 1}[name]


def test_alternative_text_of_the_timing_diagram():
    alt = full_timing().alt
    assert "781 ticks = 19.525 µs" in alt
    assert "recorded and expected first differ in tick 219" in alt
    assert "2 of 4 turns of watch are late" in alt
    assert "340 ticks = 8.5 µs" in alt


def test_own_alternative_text_wins():
    figure = view.timing_diagram([COUNT], alt="The counter wraps in tick 600.")
    assert figure.alt == "The counter wraps in tick 600."
    assert view.alt_text(figure, " Look \n at tick 40. ").alt == "Look at tick 40."
    with pytest.raises(ValueError, match="empty"):
        view.alt_text(figure, " ")


def shown_texts(figure):
    return [text.get_text() for text in figure.findobj(Text)]


def test_fixed_point_is_shown_as_the_number_it_means():
    figure = view.timing_diagram([(trace("x", (0, -40), (50, 24)), make("sfixed", 3, -4))], 0, 100)
    assert {"-2.5", "1.5"} <= set(shown_texts(figure))


def test_a_value_without_room_is_left_out_not_shortened():
    wide = trace("x", (0, 123456), (3, 1), (100, 0))
    texts = shown_texts(view.timing_diagram([view.Bus(wide)], 0, 200))
    assert "1" in texts and not any("123" in text for text in texts)


def test_states_by_name_and_number():
    texts = shown_texts(view.timing_diagram([view.States(trace("s", (0, 0), (50, 9)), names=["idle"])], 0, 100))
    assert {"idle", "9"} <= set(texts)


def test_turns_late_by_the_clock():
    turns = view.Turns(np.array([0, 100, 250, 300]), np.array([100, 201, 290, 399]), 100)
    assert turns.is_late().tolist() == [False, True, True, False]
    assert not view.Turns(np.array([3, 9]), np.array([9, 20])).is_late().any()


def test_turns_from_counters():
    turns = view.turns_of(
        trace("turns", (0, 0), (100, 1), (230, 2)),
        trace("late", (0, 0), (230, 1)),
        trace("busy", (0, 1), (40, 0), (100, 1), (200, 0), (230, 1)),
        300,
        period=100,
    )
    assert turns.begin.tolist() == [0, 100, 230]
    assert turns.end.tolist() == [40, 200, 300]
    assert turns.late.tolist() == [False, True, False]


def test_marks_in_one_lane_never_meet():
    marks = [(t, f"mark number {t}") for t in range(0, 1000, 40)] + [(100, 500), (300, 800)]
    for lane in _lanes(_all_marks(marks, [10, 20, 900]), 0, 1000, 25e-9):
        spans = sorted(placed.span for placed in lane)
        assert all(a[1] <= b[0] for a, b in zip(spans, spans[1:], strict=False))


def test_thousands_of_changes_stay_quick_and_small():
    rng = np.random.default_rng(3)
    busy = [Trace(f"s{i}", np.arange(200_000), rng.integers(0, 2 if i % 2 else 9, 200_000)) for i in range(6)]
    figure = view.timing_diagram([*busy, view.Curve(busy[0])], 0, 200_000)
    assert sum(len(line.get_xdata()) for ax in figure.axes for line in ax.lines) < 60_000
    assert sum(len(c.get_paths()) for ax in figure.axes for c in ax.collections) < 20_000


def test_far_from_zero_the_axis_counts_from_its_left_edge():
    figure = view.timing_diagram([trace("x", (0, 0), (40_000_010, 1))], 40_000_000, 40_000_040)
    assert any("counted from tick 40\u2009000\u2009000" in text for text in shown_texts(figure))


def test_a_signal_of_another_clock_is_placed_on_the_axis():
    slow = view.Level(trace("slow", (0, 0), (10, 1)), per_tick=4)
    assert slow.on_picture_clock()[0].ticks.tolist() == [0, 40]


def test_histogram_counts_what_lies_beyond_one_count():
    assert (
        "2 of them lie more than one count (1 tick)"
        in view.histogram(np.array([99, 100, 101, 102, 98]), expected=100).alt
    )


def test_spectrum_names_the_line_under_a_cursor():
    assert "1×: 24 Hz, 2 m/s²" in view.spectrum(FREQUENCY, lines(), cursors={"1×": 24.6}).alt


def test_panels_show_each_spectrum_in_full_on_the_same_scales():
    curves = {"A": lines(), "B": lines(50), "C": lines(70)}
    figure = view.spectrum(FREQUENCY, curves, panels=True, start=1)
    shown = [ax for ax in figure.axes if ax.lines]
    assert [ax.get_title(loc="left") or ax.get_title() for ax in shown] == list(curves)
    assert len({(ax.get_xlim(), ax.get_ylim()) for ax in shown}) == 1
    for ax, curve in zip(shown, curves.values(), strict=True):
        assert ax.lines[0].get_ydata().max() == pytest.approx(curve[FREQUENCY >= 1].max())


def test_a_wide_map_keeps_its_peaks():
    wide = np.full((3, 10_000), 1e-3)
    wide[1, 7777] = 5.0
    figure = view.waterfall(np.linspace(0, 1000, 10_000), np.arange(3.0), wide)
    mesh = figure.axes[0].collections[0]
    assert mesh.get_array().size <= 3 * 1600 and mesh.get_array().max() == pytest.approx(0.0)


REFUSALS = {
    "no rows": lambda: view.timing_diagram([]),
    "must lie after start": lambda: view.timing_diagram([COUNT], 50, 50),
    "unknown unit 'min'": lambda: view.timing_diagram([COUNT], unit="min"),
    "needs tick_s": lambda: view.timing_diagram([COUNT], unit="us"),
    "at least one Part": lambda: view.schedule([]),
    "at least one value": lambda: view.histogram(np.array([])),
    "4 lines, the frequency axis 3": lambda: view.spectrum(np.arange(3), np.ones(4)),
    "give a start above 0": lambda: view.spectrum(np.arange(3), np.ones(3), panels=True),
    "below the floor": lambda: view.spectrum(np.arange(3), np.zeros(3)),
    "the axes announce 2 spectra of 3 lines": lambda: view.waterfall(np.arange(3), np.arange(2), np.ones((3, 2))),
    "need turning_hz": lambda: view.waterfall(np.arange(3), np.arange(2), np.ones((2, 3)), orders=[1]),
    "every amplitude is 0": lambda: view.waterfall(np.arange(3), np.arange(2), np.zeros((2, 3))),
    "the response has 2 points": lambda: view.bode(np.arange(3), np.ones(2)),
    "at least one vibration vector": lambda: view.balance_plot({}),
    "at least one PathStep": lambda: view.critical_path([]),
    "no number of available resources for: LUT": lambda: view.usage_bars({"LUT": 3}, {}),
}


@pytest.mark.parametrize("words", REFUSALS)
def test_bad_input_gets_a_clear_error(words):
    with pytest.raises(ValueError, match=words):
        REFUSALS[words]()


def test_the_title_of_a_balance_plot_stands_clear_of_its_headings():
    picture = FIGURES["balance"]()
    picture.png(1)
    title = picture._suptitle.get_window_extent()
    assert all(not title.overlaps(ax.title.get_window_extent()) for ax in picture.axes)


def test_something_that_is_no_row_is_refused():
    with pytest.raises(TypeError, match="this is list"):
        view.timing_diagram([[1, 2, 3]])


def test_more_curves_than_colours_are_all_drawn_and_told_apart():
    frequency = np.arange(1.0, 200.0)
    many = {f"run {i}": (i + 1.0) / frequency for i in range(9)}
    (axes,) = view.spectrum(frequency, many).axes
    looks = {(line.get_color(), str(line._unscaled_dash_pattern)) for line in axes.get_lines()}
    assert len(axes.get_lines()) == len(looks) == 9
    panels = view.spectrum(frequency, many, panels=True)
    assert [ax.get_title(loc="left") for ax in panels.axes if ax.axison] == list(many)
    upper, _ = view.bode(frequency, {name: curve * 1j for name, curve in many.items()}).axes
    assert len(upper.get_lines()) == 9
    with pytest.raises(ValueError, match=r"17 curves cannot be told apart: draw at most 16.*panels"):
        view.spectrum(frequency, {str(i): 1 / frequency for i in range(17)})
