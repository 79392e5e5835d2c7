/** The live line: a websocket that reconnects by itself and says when the station is out of reach. */
import type { ClientMessage, ServerMessage } from '../contract/live.ts';

/** The part of a browser's WebSocket that is used; tests bring their own. */
export interface Line {
  readyState: number;
  onopen: (() => void) | null;
  onmessage: ((event: { data: unknown }) => void) | null;
  onclose: (() => void) | null;
  send(text: string): void;
  close(): void;
}

export interface LiveSocketOptions {
  open(): Line;
  onMessage(message: ServerMessage): void;
  onConnection(connection: 'connecting' | 'live' | 'lost'): void;
  /** Random part of the waiting time, 0 to 1, so that many pages do not come back at once. */
  random?: () => number;
}

export interface LiveSocket {
  start(): void;
  /** Remembered and sent again after each reconnection. */
  watch(locationId: number | null): void;
  /** Tries again at once, e.g. when the device wakes up. */
  retryNow(): void;
  stop(): void;
}

/** The station speaks at least every 5 s: two and a half of those without a word mean the line is dead. */
const SILENCE_MS = 12_500;
const FIRST_WAIT_MS = 500;
const LONGEST_WAIT_MS = 15_000;
const OPEN = 1;

export function createLiveSocket({
  open,
  onMessage,
  onConnection,
  random = Math.random,
}: LiveSocketOptions): LiveSocket {
  let line: Line | null = null;
  let running = false;
  let attempts = 0;
  let watched: number | null = null;
  let retryTimer: ReturnType<typeof setTimeout> | undefined;
  let silenceTimer: ReturnType<typeof setTimeout> | undefined;

  function connect(): void {
    clearTimeout(retryTimer);
    const fresh = open();
    line = fresh;
    expectWord();
    fresh.onopen = () => {
      attempts = 0;
      onConnection('live');
      if (watched !== null) sendWatch();
    };
    fresh.onmessage = ({ data }) => {
      expectWord();
      const message = parse(data);
      if (message !== null) onMessage(message);
    };
    fresh.onclose = () => lose(fresh);
  }

  function lose(dead: Line): void {
    if (dead !== line) return;
    line = null;
    dead.onopen = dead.onmessage = dead.onclose = null;
    dead.close();
    clearTimeout(silenceTimer);
    if (!running) return;
    onConnection('lost');
    const wait = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** attempts);
    attempts += 1;
    retryTimer = setTimeout(connect, wait * (0.5 + random() / 2));
  }

  function expectWord(): void {
    clearTimeout(silenceTimer);
    silenceTimer = setTimeout(() => line && lose(line), SILENCE_MS);
  }

  function sendWatch(): void {
    const message: ClientMessage = { type: 'watch', locationId: watched };
    if (line?.readyState === OPEN) line.send(JSON.stringify(message));
  }

  return {
    start() {
      if (running) return;
      running = true;
      attempts = 0;
      onConnection('connecting');
      connect();
    },
    watch(locationId) {
      if (locationId === watched) return;
      watched = locationId;
      sendWatch();
    },
    retryNow() {
      if (running && line === null) connect();
    },
    stop() {
      running = false;
      clearTimeout(retryTimer);
      const last = line;
      if (last) lose(last);
    },
  };
}

function parse(data: unknown): ServerMessage | null {
  try {
    const message: unknown = JSON.parse(String(data));
    return typeof message === 'object' && message !== null && 'type' in message
      ? (message as ServerMessage)
      : null;
  } catch {
    return null;
  }
}
