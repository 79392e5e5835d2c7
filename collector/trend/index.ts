/** The door of trending: numbers in, numbers out; no file, clock or network behind it. */
export { ALERT_RULE, type AlertRule, FINDING_RULE } from './alarm-chain.ts';
export { type AlertChange, type AlertState, type Observed, observe, QUIET, stepAlert } from './alert.ts';
export {
  BASELINE_RULES,
  type Baseline,
  type BaselineRules,
  baseline,
  type Level,
  type NoBaseline,
} from './baseline.ts';
export { type ChangePoint, changePoint } from './change-point.ts';
export {
  type BinScheme,
  type Condition,
  conditionBin,
  ROAD_BINS,
  STEADY_BIN,
  type StretchBreak,
  stretchAt,
  wasRunning,
} from './condition.ts';
export {
  type Believed,
  type BreakEven,
  breakEven,
  type CostAnswer,
  type CostQuestion,
  decisionCosts,
  type Option,
  type OptionCost,
} from './decision-costs.ts';
export { falseAlarmsPerYear, falseFindingsPerYear } from './false-alarms.ts';
export { type Followed, type FollowQuestion, follow } from './follow.ts';
export {
  type FollowedColumn,
  type FollowedTable,
  followTable,
  type LevelTable,
  type TableQuestion,
} from './follow-table.ts';
export { type CannotSay, type Forecast, type ForecastQuestion, forecast } from './forecast.ts';
export {
  type AlertWish,
  type ChangeCriterion,
  changeLimits,
  LEAST_CHANGE_DB,
  type Limits,
  zoneLimits,
} from './limits.ts';
export { type TrendTest, trendTest } from './mann-kendall.ts';
export { type MatchedComparison, matchedComparison, type PlacedLevel } from './matched.ts';
export { comparePeers, type PeerChange, type PeerComparison } from './peers.ts';
export { uniform } from './random.ts';
export { levelDb, ratioOfDb } from './robust.ts';
export { type ReadingValue, RUN_LIMITS, type RunLimits, type RunSummary, runSummary } from './run-summary.ts';
export { DO_NOT_DEFER, doNotDefer, type LocationKind, type SafetyQuestion } from './safety.ts';
export { type ShareInterval, shareInterval } from './share-interval.ts';
export { type Silence, type SilenceQuestion, silences } from './silence.ts';
export { slopeInterval, type TheilSen, theilSen } from './theil-sen.ts';
export { type BinLevel, type IndexPoint, type TrendIndex, trendIndex } from './trend-index.ts';
export { type WatchEvent, type Watched, type WatchSettings, watchLevels } from './watch.ts';
export { type WatchInterval, type WatchQuestion, watchInterval } from './watch-interval.ts';
