/** Pages about weeks: one script, fetched when the first of them is opened. */
export { TrendPage } from './trend-page.tsx';
