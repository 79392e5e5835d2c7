import { decodeTimeRequest, encodeTimeAnswer } from '../firmware-protocol/index.ts';

/**
 * Answers a node's question for the time: when it arrived (t1) and when the answer leaves (t2), both Unix microseconds
 * (SPEC.md, "Time exchange"). The time between the two, whatever it is, does not count as time on the way. Null when the
 * bytes are no question.
 */
export function answerTimeRequest(
  payload: Uint8Array,
  arrivedAtUs: number,
  nowUs: () => number,
): Uint8Array | null {
  const decoded = decodeTimeRequest(payload);
  if (!decoded.ok) return null;
  const { nodeId, bootId, t0Us } = decoded.message;
  // A step of the station's clock between the two must not give an answer that leaves before the question came.
  const t2Us = Math.max(arrivedAtUs, nowUs());
  return encodeTimeAnswer({ nodeId, bootId, t0Us, t1Us: BigInt(arrivedAtUs), t2Us: BigInt(t2Us) });
}
