/** Findings as sentences: the report of the server says them in the same words. */
export * from '../contract/words/findings.ts';
