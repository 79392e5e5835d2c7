import { type Decoded, DecodeError, fail } from './errors.ts';
import { Kind, MAX_EXACT } from './layout.ts';
import { begin, type Header, openSmall, seal, whole, wide } from './wire.ts';

/**
 * What the station holds on disk. Station to node, topic kind `journaled`: every sample packet of boot
 * `bootId` with `fromSequence <= sequence < uptoSequence` is in the journal, without a hole. The node may
 * forget those; packets it still holds from before `fromSequence` were lost on the way, and it sends them again.
 */
export interface Journaled extends Header {
  fromSequence: number;
  uptoSequence: number;
  /** Sample counter behind the last journaled packet: the counter is journaled up to, not including, this. */
  uptoSample: bigint;
}

const BYTES = 36;

export function encodeJournaled(message: Journaled): Uint8Array {
  const view = begin(Kind.Journaled, BYTES, message);
  view.setUint32(16, whole(message.fromSequence, 0, message.uptoSequence, 'fromSequence'), true);
  view.setUint32(20, whole(message.uptoSequence, 0, 0xffffffff, 'uptoSequence'), true);
  view.setBigUint64(24, wide(message.uptoSample, MAX_EXACT, 'uptoSample'), true);
  return seal(view);
}

export function decodeJournaled(bytes: Uint8Array): Decoded<Journaled> {
  const opened = openSmall(bytes, Kind.Journaled, BYTES);
  if (!opened.ok) return opened;
  const { view, header } = opened;
  const fromSequence = view.getUint32(16, true);
  const uptoSequence = view.getUint32(20, true);
  const uptoSample = view.getBigUint64(24, true);
  if (fromSequence > uptoSequence)
    return fail(DecodeError.BadField, `from ${fromSequence} up to ${uptoSequence}`);
  if (uptoSample > MAX_EXACT) return fail(DecodeError.BadField, `sample counter ${uptoSample}`);
  return { ok: true, message: { ...header, fromSequence, uptoSequence, uptoSample } };
}
