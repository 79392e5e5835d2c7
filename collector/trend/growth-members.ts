import { GROWTH_SHAPES, type GrowthShape, onShape, stretch } from './growth-shape.ts';
import { followLine, type LineState, type Wander } from './local-line.ts';
import { median } from './robust.ts';

/** One way the past may be read: a shape of growth and how much its line wanders. */
export interface GrowthMember {
  shape: GrowthShape;
  wander: Wander;
  /** Line at the last run, on the shape's scale; time in windows. */
  state: LineState;
  /** Mean speed of the rise over the window, on the shape's scale. */
  riseSpeed: number;
  /** Share of belief; the shares of all members add up to 1. */
  weight: number;
}

/** Standard deviation of a run's scatter against the estimate from second differences. */
const NOISE_FACTORS = [0.7, 1, 1.4];
/** Steps of the level itself over the window, as shares of the rise: smooth wear to wear in jumps. */
const LEVEL_WANDER = [0, 0.3, 1];
/** Change of the slope over the window, in mean slopes. Never 0: no data show that wear keeps its pace. */
const SLOPE_WANDER = [0.1, 0.3, 1];
/** The slope is looked for within this many mean slopes. */
const SLOPE_REACH = 4;
/** First runs only find the line; predicting them well earns no weight. */
const UNSCORED = 3;
/**
 * Part of the belief that is shared equally among the shapes whatever the data say: over the little of a life that has
 * been seen all shapes look alike, and a slightly better fit there is no evidence about the end.
 */
const EQUAL_SHARE = 0.3;

/**
 * Reads the past in 81 ways and weighs them by how well each predicted every run from the runs before (marginal
 * likelihood; Bayesian model averaging, Hoeting et al. 1999), held back by `EQUAL_SHARE`.
 *
 * @param time in windows, 0 to 1
 * @param db levels above the baseline
 * @param smooth running median of `db`
 */
export function growthMembers(
  time: readonly number[],
  db: readonly number[],
  smooth: readonly number[],
): GrowthMember[] {
  const noiseDb = scatterDb(db);
  const members: (GrowthMember & { logWeight: number })[] = [];
  for (const shape of GROWTH_SHAPES) {
    const z = db.map((value) => onShape(value, shape));
    const scale = smooth.map((value) => noiseDb * stretch(value, shape));
    const rise = onShape(Math.max(...smooth), shape) - onShape(Math.min(...smooth), shape);
    // Likelihoods are compared per dB, not per unit of each shape's own scale.
    let perDb = 0;
    for (let i = UNSCORED; i < db.length; i++) perDb += Math.log(stretch(db[i]!, shape));
    for (const noise of NOISE_FACTORS) {
      const noiseSd = scale.map((value) => value * noise);
      for (const level of LEVEL_WANDER) {
        for (const slope of SLOPE_WANDER) {
          const wander = { level: (level * rise) ** 2, slope: (slope * rise) ** 2 };
          const { state, logLikelihood } = followLine(time, z, noiseSd, wander, SLOPE_REACH * rise, UNSCORED);
          members.push({
            shape,
            wander,
            state,
            riseSpeed: rise,
            weight: 0,
            logWeight: logLikelihood + perDb,
          });
        }
      }
    }
  }
  const best = Math.max(...members.map(({ logWeight }) => logWeight));
  const belief = ({ logWeight }: { logWeight: number }) => Math.exp(logWeight - best);
  const all = members.reduce((sum, member) => sum + belief(member), 0);
  for (const shape of GROWTH_SHAPES) {
    const own = members.filter((member) => member.shape === shape);
    const ofShape = own.reduce((sum, member) => sum + belief(member), 0);
    for (const member of own) {
      const equal = belief(member) / Math.max(ofShape, 1e-300) / GROWTH_SHAPES.length;
      member.weight = EQUAL_SHARE * equal + (1 - EQUAL_SHARE) * (belief(member) / all);
    }
  }
  return members;
}

/** Scatter from run to run without the growth: median of second differences, whose sd is sqrt(6) times the scatter's. */
function scatterDb(db: readonly number[]): number {
  const second = db.slice(2).map((value, i) => Math.abs(value - 2 * db[i + 1]! + db[i]!));
  return Math.max(0.1, (1.4826 * median(second)) / Math.sqrt(6));
}
