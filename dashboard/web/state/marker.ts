/** Noise marks on their way to the station: none is lost while the line is down. Pure but for the calls given to it. */
import { type Signal, signal } from '@preact/signals';
import type { MarkRequest, Run } from '../../contract/runs.ts';

type SendMark = (request: MarkRequest) => Promise<Run>;

export interface Marker {
  /** Marks that the station has not taken yet. */
  waiting: Signal<number>;
  /** Moment of the last press. */
  lastMs: Signal<number | null>;
  /** Whether the button is down now. */
  down: Signal<boolean>;
  press(atMs: number, source: 'button' | 'key'): void;
  release(atMs: number): void;
  /** Tries again what waits. */
  retry(): void;
}

/** Held shorter than this it is a press: one moment. */
const HELD_MS = 800;

interface Pending {
  atMs: number;
  source: 'button' | 'key';
  endMs: number | null;
  released: boolean;
}

export function createMarker(sendMark: SendMark, isFinal: (error: unknown) => boolean): Marker {
  const waiting = signal(0);
  const lastMs = signal<number | null>(null);
  const down = signal(false);
  const queue: Pending[] = [];
  let held: Pending | null = null;
  let sending = false;

  async function sendAll(): Promise<void> {
    if (sending) return;
    sending = true;
    try {
      // A press goes out when it is over: then it is known whether it was held.
      for (let next = queue[0]; next?.released; next = queue[0]) {
        await send(next);
        queue.shift();
        waiting.value = queue.length;
      }
    } catch {
      // Kept; `retry` comes.
    } finally {
      sending = false;
    }
  }

  async function send({ atMs, endMs, source }: Pending): Promise<void> {
    try {
      await sendMark({ atMs, endMs, source });
    } catch (error) {
      // Refused for good (the run has ended, for example): trying again would only hold up the others.
      if (!isFinal(error)) throw error;
    }
  }

  return {
    waiting,
    lastMs,
    down,
    press(atMs, source) {
      if (held !== null) return;
      held = { atMs: Math.round(atMs), source, endMs: null, released: false };
      queue.push(held);
      down.value = true;
      lastMs.value = held.atMs;
      waiting.value = queue.length;
    },
    release(atMs) {
      if (held === null) return;
      if (atMs - held.atMs >= HELD_MS) held.endMs = Math.round(atMs);
      held.released = true;
      held = null;
      down.value = false;
      void sendAll();
    },
    retry: () => void sendAll(),
  };
}
