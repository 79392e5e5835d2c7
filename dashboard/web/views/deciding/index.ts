/** Pages about repairs put off: one script, fetched when the first of them is opened. */
export { DecidePage } from './decide-page.tsx';
export { OpenedPage } from './opened-page.tsx';
export { RepairPage } from './repair-page.tsx';
export { WatchPage } from './watch-page.tsx';
