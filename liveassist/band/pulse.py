"""The pulse: the map between count and seconds, with its spread.

Counts are quarter notes played since the start and always grow; times are seconds. The pulse is a straight line through a
reference point, (time, period) with a covariance, and a linear dynamical system moves it (Raphael's form for timing):

    time'   = time + length * period + noise of the beat         period' = period + drift

A cue is an observation of the time of one count. Prediction and correction are the Kalman filter's; a cue far outside the
spread counts less (Huber), so one odd foot cannot bend the tempo. All noise is stated for one counted beat. The figures are
the working values for this tool: 2.5 % of a beat for the player's timekeeping and 0.4 % a beat of drift, and a foot's own
scatter of 25 ms (trios of musicians differ by 30-50 ms SD: Rasch 1979).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt

BEAT_NOISE = 0.025
"""SD of one beat's length as a share of it."""
DRIFT = 0.004
"""SD of the change of tempo from one beat to the next, as a share."""
FOOT_SCATTER = 0.025
"""SD of a foot around the beat that it means, in seconds."""
FIRST_TEMPO = 0.06
"""SD of the first tempo around the one written, as a share."""
OUTLIER = 2.0
"""From so many standard deviations on a cue loses weight."""
RESTLESS, CALMEST, WILDEST = 1.5, 0.8, 4.0
"""How much more (or less) than the figures above a player's beat moves: where it begins, and its bounds. Learned from cues."""
LEARNING = 0.12
"""How fast that is learned: the share of one cue."""
LED_NOISE, LED_DRIFT = 0.007, 0.002
"""The first two figures for a drummer or a clock, who keep a steadier beat than feet do: a choice of ours."""
SLOWEST, FASTEST = 0.6, 1.6
"""Tempo may wander between these shares of the home tempo."""


@dataclass(frozen=True, slots=True)
class Pulse:
    """A steady beat as far as it is known: never changed in place."""

    count: float
    """Reference count, in quarter notes."""
    time: float
    """When that count falls, in seconds."""
    period: float
    """Seconds per quarter note."""
    home: float
    """Seconds per quarter note at the home tempo."""
    beat: float = 1.0
    """Quarter notes in a counted beat: the unit of the noise."""
    var_time: float = 0.0
    cov: float = 0.0
    var_period: float = 0.0
    restless: float = RESTLESS
    """How much this player's beat moves, as a multiple of the figures above."""
    steady: bool = False
    """A click's pulse: known for certain, moved by nothing."""
    followed: bool = False
    """Somebody else keeps it, a drummer or a clock: no foot moves it."""

    @classmethod
    def begin(
        cls, count: float, time: float, period: float, beat: float, *, steady: bool = False, followed: bool = False
    ) -> Pulse:
        """A pulse at its first beat: the phase is that of the first foot, the tempo only roughly known."""
        if steady:
            return cls(count, time, period, period, beat, steady=True)
        var_period = (FIRST_TEMPO * period) ** 2
        return cls(count, time, period, period, beat, FOOT_SCATTER**2, 0.0, var_period, followed=followed)

    def counted_in(self) -> Pulse:
        """The same pulse, as sure as a count by sticks makes it: phase and tempo of some clicks."""
        return replace(self, var_time=0.010**2, cov=0.0, var_period=(0.02 * self.period) ** 2)

    def kept(self, *, steady: bool = False, followed: bool = False) -> Pulse:
        """The same pulse from now on kept by a click, by somebody else, or by neither: then by the feet."""
        if (steady, followed) == (self.steady, self.followed):
            return self
        loose = 0.0 if steady else 1.0
        return replace(
            self,
            steady=steady,
            followed=followed,
            var_time=loose * FOOT_SCATTER**2,
            cov=0.0,
            var_period=loose * (FIRST_TEMPO / 2 * self.period) ** 2,
            restless=RESTLESS,
        )

    def time_of(self, count: float) -> float:
        """When a count falls, in seconds."""
        return self.time + (count - self.count) * self.period

    def count_at(self, time: float) -> float:
        """The count at a time."""
        return self.count + (time - self.time) / self.period

    def spread(self, count: float) -> float:
        """SD of a cue expected at a count around its predicted time, in seconds."""
        return sqrt(self.ahead(count)[0] + FOOT_SCATTER**2)

    def ahead(self, count: float, looseness: float = 1.0) -> tuple[float, float, float]:
        """Covariance (time, time-period, period) carried to a count."""
        if self.steady:
            return 0.0, 0.0, 0.0
        length = abs(count - self.count)
        beats = length / self.beat
        looseness *= 1.0 if self.followed else self.restless
        beat_noise, drift_noise = (LED_NOISE, LED_DRIFT) if self.followed else (BEAT_NOISE, DRIFT)
        noise = beats * (looseness * beat_noise * self.period * self.beat) ** 2
        drift = (looseness * drift_noise * self.period) ** 2
        return (
            self.var_time + 2 * length * self.cov + length**2 * self.var_period + noise + drift * beats * length**2 / 3,
            self.cov + length * self.var_period + drift * beats * length / 2,
            self.var_period + drift * beats,
        )

    def corrected(
        self, count: float, at: float, *, trust: float = 1.0, looseness: float = 1.0, scatter: float = FOOT_SCATTER
    ) -> Pulse:
        """The pulse after a cue that meant ``count`` was heard ``at``.

        ``trust`` scales the correction (a wrong note in the right place counts half); ``looseness`` above 1 lets the tempo
        follow fast, as in a marked ritard.
        """
        if self.steady or self.followed:
            return self
        var_time, cov, var_period = self.ahead(count, looseness)
        expected = self.time_of(count)
        miss = at - expected
        spread = var_time + scatter**2
        z = abs(miss) / sqrt(spread)
        weight = trust * (1.0 if z <= OUTLIER or looseness > 1.0 else OUTLIER / z)
        gain_time, gain_period = weight * var_time / spread, weight * cov / spread
        period = self.within(self.period + gain_period * miss)
        return Pulse(  # written out: this is asked many times a foot
            count,
            expected + gain_time * miss,
            period,
            self.home,
            self.beat,
            var_time - gain_time * var_time,
            cov - gain_time * cov,
            max(0.0, var_period - gain_period * cov),
            self._learned(z) if looseness == 1.0 and scatter == FOOT_SCATTER else self.restless,
        )

    def within(self, period: float) -> float:
        """A period within the bounds around the home tempo."""
        return min(max(period, self.home / FASTEST), self.home / SLOWEST)

    def _learned(self, z: float) -> float:
        """How restless the player is, after a cue that came ``z`` standard deviations off."""
        moved = self.restless * sqrt(1 - LEARNING + LEARNING * min(z * z, 8.0))
        return min(max(moved, CALMEST), WILDEST)

    def restarted(self, count: float, at: float) -> Pulse:
        """The same tempo, with the phase taken from this cue alone: after a hold, a breath, a stop, a jump out of time."""
        if self.steady or self.followed:
            return replace(self, count=count, time=at)
        return replace(self, count=count, time=at, var_time=FOOT_SCATTER**2, cov=0.0)

    def at_tempo(self, period: float, now: float) -> Pulse:
        """Another tempo from now on, without a jump of the phase."""
        return replace(
            self,
            count=self.count_at(now),
            time=now,
            period=period,
            home=period,
            cov=0.0,
            var_period=(0.03 * period) ** 2,
        )

    def in_beats(self, beat: float) -> Pulse:
        """The same pulse, counted in beats of another length."""
        return self if beat == self.beat else replace(self, beat=beat)

    def bpm(self, beat: float) -> float:
        """Counted beats a minute, a beat being so many quarter notes."""
        return 60.0 / (self.period * beat)
