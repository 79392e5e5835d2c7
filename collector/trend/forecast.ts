import { drift, followLine, type LineState, type Wander } from './local-line.ts';
import { trendTest } from './mann-kendall.ts';
import { gaussian, uniform } from './random.ts';
import { levelDb, median, quantileOfSorted } from './robust.ts';
import type { Level } from './baseline.ts';

export interface ForecastTuning { noise: number[]; levelWander: number[]; slopeWander: number[]; lambdas: number[]; temper: number; horizonSpans: number; leastRuns: number; widthMax: number; logSlope: boolean; etaMax: number; downShare: number; hazard: number; jump: number; alpha: number }
export const TUNING: ForecastTuning = { noise: [0.7, 1, 1.4], levelWander: [0, 0.3, 1], slopeWander: [0.5, 1, 2, 4], lambdas: [-1, 0, 1], temper: 1, horizonSpans: 3, leastRuns: 12, widthMax: 12, logSlope: true, etaMax: 1.5, downShare: 0, hazard: 0.3, jump: 1, alpha: 0.05 };

export type Forecast =
  | { known: true; fromMs: number; middleMs: number; toMs: number }
  | { known: false; reason: string; notBeforeMs: number | null };

export function forecast(levels: readonly Level[], limit: number, reference: number, T: ForecastTuning = TUNING, seed = 1): Forecast {
  const n = levels.length;
  if (n < T.leastRuns) return { known: false, reason: 'too-few-runs', notBeforeMs: null };
  const times = levels.map((l) => l.timeMs);
  const span = times.at(-1)! - times[0]!;
  const t = times.map((x) => (x - times[0]!) / span);
  const db = levels.map((l) => levelDb(l.value, reference));
  const limitDb = levelDb(limit, reference);
  const smooth = db.map((_, i) => median(db.slice(Math.max(0, i - 2), i + 3)));
  if (median(db.slice(-3)) >= limitDb) return { known: false, reason: 'reached', notBeforeMs: null };
  const test = trendTest(times, db);
  if (test.pValue > T.alpha || (test.tau ?? 0) <= 0) return { known: false, reason: 'no-rise', notBeforeMs: null };
  // noise from second differences
  const d2 = db.slice(2).map((v, i) => (v - 2 * db[i + 1]! + db[i]!) / Math.sqrt(6));
  const s0 = Math.max(0.1, 1.4826 * median(d2.map(Math.abs)));
  const rise = Math.max(...smooth) - Math.min(...smooth);
  type Member = { w: number; state: LineState; wander: Wander; lambda: number };
  const members: Member[] = [];
  const toZ = (d: number, l: number) => (l === 0 ? d : (20 / Math.LN10) * (Math.exp((l * d * Math.LN10) / 20) - 1) / l);
  const dz = (d: number, l: number) => Math.exp((l * d * Math.LN10) / 20);
  for (const lambda of T.lambdas) {
    const z = db.map((d) => toZ(d, lambda));
    const scale = smooth.map((d) => dz(d, lambda));
    const riseZ = Math.max(...smooth.map((d) => toZ(d, lambda))) - Math.min(...smooth.map((d) => toZ(d, lambda)));
    let jac = 0;
    for (let i = 3; i < n; i++) jac += Math.log(dz(db[i]!, lambda));
    for (const ns of T.noise) for (const lw of T.levelWander) for (const sw of T.slopeWander) {
      const wander = { level: (lw * riseZ) ** 2, slope: (sw * riseZ) ** 2 };
      const { state, logLikelihood } = followLine(t, z, scale.map((s) => s * s0 * ns), wander, 4 * riseZ, 3);
      members.push({ w: (logLikelihood + jac) * T.temper, state, wander, lambda });
    }
  }
  void rise;
  const best = Math.max(...members.map((m) => m.w));
  let total = 0;
  for (const m of members) total += m.w = Math.exp(m.w - best);
  const next = uniform(seed);
  const g = gaussian(next);
  const PATHS = 1500;
  const steps = 60;
  const dts = Array.from({ length: steps }, (_, k) => (T.horizonSpans * ((k + 1) ** 2 - k ** 2)) / steps ** 2);
  const out: number[] = [];
  for (const m of members) {
    const count = Math.round((PATHS * m.w) / total + next() - 0.5);
    const lim = toZ(limitDb, m.lambda);
    for (let p = 0; p < count; p++) {
      const a = Math.sqrt(Math.max(0, m.state.pLevel));
      let level = m.state.level;
      let slope = m.state.slope;
      if (a > 0) {
        const e = g();
        level += a * e;
        const c = m.state.pCross / a;
        slope += c * e + Math.sqrt(Math.max(0, m.state.pSlope - c * c)) * g();
      }
      const slope0 = slope;
      const eta2 = Math.min(T.etaMax ** 2, m.wander.slope / Math.max(1e-12, slope0 * slope0));
      let when = level >= lim ? 0 : Number.POSITIVE_INFINITY;
      let at = 0;
      for (let k = 0; k < steps && when === Number.POSITIVE_INFINITY; k++) {
        const dt = dts[k]!;
        if (T.hazard > 0 && next() < 1 - Math.exp(-T.hazard * dt)) slope *= Math.exp(T.jump * Math.abs(g()));
        const w = drift({ level, slope, pLevel: 0, pCross: 0, pSlope: 0 }, dt, m.wander);
        const sl = Math.sqrt(w.pLevel);
        const e = g();
        const nl = T.logSlope && slope0 > 0 ? level + slope * dt + Math.sqrt(m.wander.level * dt) * g() : w.level + sl * e;
        const c = sl > 0 ? w.pCross / sl : 0;
        const nsl = T.logSlope && slope0 > 0 ? slope * Math.exp(Math.sqrt(eta2 * dt) * g() - T.downShare * eta2 * dt / 2) : w.slope + c * e + Math.sqrt(Math.max(0, w.pSlope - c * c)) * g();
        if (nl >= lim) when = at + (dt * (lim - level)) / (nl - level);
        level = nl; slope = nsl; at += dt;
      }
      out.push(when);
    }
  }
  const sorted = Float64Array.from(out).sort();
  const q = (s: number) => { const v = quantileOfSorted(sorted, s); return Number.isNaN(v) ? Number.POSITIVE_INFINITY : v; };
  const [lo, mid, hi] = [q(0.1), q(0.5), q(0.9)];
  const end = times.at(-1)!;
  const abs = (x: number) => end + x * span;
  if (!Number.isFinite(hi)) return { known: false, reason: 'too-wide', notBeforeMs: abs(Math.min(lo, T.horizonSpans)) };
  return { known: true, fromMs: abs(lo), middleMs: abs(mid), toMs: abs(hi) };
}
