/** Words of runs: the report of the server says them in the same words. */
export * from '../contract/words/runs.ts';
