import type { SpanAnswer } from '../../../collector/index.ts';
import type { FindingRecord } from '../../contract/drive-train.ts';
import type { PreparedLook } from './question.ts';

/** What a look came to, with the conditions under which it was made. */
export function findingOf(
  locationId: number,
  prepared: PreparedLook,
  found: Omit<SpanAnswer, 'pictureSvg'>,
  asked: { atMs: number; by: string | null },
): Omit<FindingRecord, 'id' | 'picture'> {
  const { sensor, shaft, shaftHz, speedSource, bearing, question } = prepared;
  const { findings, ...answer } = found;
  const stands = shaftHz !== null && question.shaftHz === undefined;
  return {
    locationId,
    ...asked,
    ...answer,
    startMs: Math.round(answer.startMs),
    findings: findings.map((finding) => ({ ...finding })),
    ...sensor,
    shaft,
    speedRpm: shaftHz === null ? null : 60 * shaftHz,
    speedSource,
    bearing,
    ...(bearing !== null && answer.verdict === 'none' && question.bearing === undefined
      ? {
          verdict: 'not-covered' as const,
          reason: stands
            ? 'the shaft stood still meanwhile'
            : "the shaft's speed is not known, and without it no bearing line has a place",
        }
      : {}),
  };
}
