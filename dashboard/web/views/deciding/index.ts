/** Pages about repairs put off: one script, fetched when the first of them is opened. */
export { WatchPage } from './watch-page.tsx';
