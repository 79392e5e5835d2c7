export { compareLocations } from './compare.ts';
export type { CompareQuestion, LocationRecord, WindowMark } from './question.ts';
export type { Comparison, Verdict } from './result.ts';
