export { analyseSpan } from './analyse-span.ts';
export type { SpanAnswer, SpanQuestion } from './span-question.ts';
