import type { Decoded } from './errors.ts';
import { DecodeError, fail } from './errors.ts';
import { Kind, MAX_EXACT } from './layout.ts';
import { begin, type Header, openSmall, seal, wide } from './wire.ts';

/**
 * One completed exchange. `t0Us` and `t3Us` are node clock (microseconds since boot: request sent, answer
 * received), `t1Us` and `t2Us` Unix microseconds at the station (request received, answer sent).
 */
export interface TimeExchange {
  t0Us: bigint;
  t1Us: bigint;
  t2Us: bigint;
  t3Us: bigint;
}

/** Node to station, topic kind `time`. */
export interface TimeRequest extends Header {
  /** Node clock when this request is sent. */
  t0Us: bigint;
  /** The last exchange this boot completed; null when there is none yet. */
  previous: TimeExchange | null;
}

/** Station to node, topic kind `time`. `bootId` and `t0Us` echo the request. */
export interface TimeAnswer extends Header {
  t0Us: bigint;
  t1Us: bigint;
  t2Us: bigint;
}

const REQUEST_BYTES = 60;
const ANSWER_BYTES = 44;

export function encodeTimeRequest(request: TimeRequest): Uint8Array {
  const view = begin(Kind.TimeRequest, REQUEST_BYTES, request);
  const { previous } = request;
  view.setBigUint64(16, wide(request.t0Us, MAX_EXACT, 't0Us'), true);
  if (previous !== null) {
    const problem = exchangeProblem(previous);
    if (problem !== null) throw new RangeError(problem);
    view.setBigUint64(24, previous.t0Us, true);
    view.setBigUint64(32, previous.t1Us, true);
    view.setBigUint64(40, previous.t2Us, true);
    view.setBigUint64(48, previous.t3Us, true);
  }
  return seal(view);
}

export function decodeTimeRequest(bytes: Uint8Array): Decoded<TimeRequest> {
  const opened = openSmall(bytes, Kind.TimeRequest, REQUEST_BYTES);
  if (!opened.ok) return opened;
  const { view, header } = opened;
  const t0Us = view.getBigUint64(16, true);
  if (t0Us > MAX_EXACT) return fail(DecodeError.BadField, `t0 is ${t0Us}`);
  const exchange: TimeExchange = {
    t0Us: view.getBigUint64(24, true),
    t1Us: view.getBigUint64(32, true),
    t2Us: view.getBigUint64(40, true),
    t3Us: view.getBigUint64(48, true),
  };
  // A station never answers at Unix time 0: t1 = 0 says "none yet".
  if (exchange.t1Us === 0n) return { ok: true, message: { ...header, t0Us, previous: null } };
  const problem = exchangeProblem(exchange);
  if (problem !== null) return fail(DecodeError.BadField, problem);
  return { ok: true, message: { ...header, t0Us, previous: exchange } };
}

function exchangeProblem({ t0Us, t1Us, t2Us, t3Us }: TimeExchange): string | null {
  if (t1Us === 0n) return 't1 of an exchange is 0';
  if ([t0Us, t1Us, t2Us, t3Us].some((t) => t < 0n || t > MAX_EXACT)) return 'a time is outside 0 to 2^53-1';
  if (t3Us < t0Us) return `answer received at ${t3Us} before the request was sent at ${t0Us}`;
  if (t2Us < t1Us) return `answer sent at ${t2Us} before the request was received at ${t1Us}`;
  return null;
}

export function encodeTimeAnswer(answer: TimeAnswer): Uint8Array {
  if (answer.t1Us === 0n || answer.t2Us < answer.t1Us) throw new RangeError('t2 lies before t1, or t1 is 0');
  const view = begin(Kind.TimeAnswer, ANSWER_BYTES, answer);
  view.setBigUint64(16, wide(answer.t0Us, MAX_EXACT, 't0Us'), true);
  view.setBigUint64(24, wide(answer.t1Us, MAX_EXACT, 't1Us'), true);
  view.setBigUint64(32, wide(answer.t2Us, MAX_EXACT, 't2Us'), true);
  return seal(view);
}

export function decodeTimeAnswer(bytes: Uint8Array): Decoded<TimeAnswer> {
  const opened = openSmall(bytes, Kind.TimeAnswer, ANSWER_BYTES);
  if (!opened.ok) return opened;
  const { view, header } = opened;
  const t0Us = view.getBigUint64(16, true);
  const t1Us = view.getBigUint64(24, true);
  const t2Us = view.getBigUint64(32, true);
  if (t0Us > MAX_EXACT || t1Us === 0n || t2Us < t1Us || t2Us > MAX_EXACT) {
    return fail(DecodeError.BadField, `times ${t0Us}, ${t1Us}, ${t2Us} are no answer`);
  }
  return { ok: true, message: { ...header, t0Us, t1Us, t2Us } };
}

/**
 * What one exchange says, in microseconds: `unixUs = nodeClockUs + offsetUs`, true within half of `delayUs`
 * (time on the way, there and back) plus the drift since. Formula: RFC 5905, section 8; the sign here is
 * station minus node.
 */
export function exchangeOffset({ t0Us, t1Us, t2Us, t3Us }: TimeExchange): {
  offsetUs: number;
  delayUs: number;
} {
  return { offsetUs: Number(t1Us - t0Us + (t2Us - t3Us)) / 2, delayUs: Number(t3Us - t0Us - (t2Us - t1Us)) };
}
