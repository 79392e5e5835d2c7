import type { Socket } from 'node:net';
import { FrameLengths } from './frame-lengths.ts';

export interface ArrivalTimes {
  /** When the oldest PUBLISH not yet asked about had arrived whole: Unix microseconds. */
  take(): number;
}

/**
 * Watches the bytes of a connection as they come from the system: cuts it before an overlong packet is collected, and
 * notes when each PUBLISH arrived. Both must happen before the bytes wait in any buffer, since a client whose earlier
 * messages are still being written to the disk is not read on, and that wait must not enter the time exchange.
 *
 * `push` is the method by which every Node stream hands itself new bytes, for TLS the decrypted ones.
 */
export function guardConnection(
  socket: Socket,
  limits: { maxConnectBytes: number; maxPacketBytes: number },
  nowUs: () => number,
  onRefused: (reason: string) => void,
): ArrivalTimes {
  const arrivedUs: number[] = [];
  const frames = new FrameLengths(limits, { publish: () => arrivedUs.push(nowUs()) });
  const push = socket.push.bind(socket);
  let refused = false;
  socket.push = (chunk: Buffer | null, encoding?: BufferEncoding) => {
    if (refused) return false;
    if (chunk !== null) {
      const problem = frames.feed(chunk);
      if (problem !== null) {
        refused = true;
        onRefused(problem);
        socket.destroy();
        return false;
      }
    }
    return push(chunk, encoding);
  };
  return { take: () => arrivedUs.shift() ?? nowUs() };
}
