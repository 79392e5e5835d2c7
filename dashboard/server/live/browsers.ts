import type { WebSocket } from 'ws';
import type { ServerMessage } from '../../contract/live.ts';
import type { Limits } from '../config.ts';

/** Why a browser was sent away (websocket close codes; 4000 and up are an application's own). */
export const CloseCode = { LoggedOut: 4001, BadMessage: 1008, GoingAway: 1001 } as const;

export interface Browser {
  socket: WebSocket;
  sessionId: number;
  watching: number | null;
  /** Heartbeats since it last answered one. */
  unanswered: number;
  /** Messages received since the last heartbeat. */
  received: number;
}

/** Counters since start. */
interface BrowserCounters {
  waveformsDropped: number;
  browsersCutOff: number;
}

/** Everybody who looks, with a bound on what waits for each of them. */
export function createBrowsers(limits: Limits) {
  const all = new Set<Browser>();
  const counters: BrowserCounters = { waveformsDropped: 0, browsersCutOff: 0 };

  function deliver(browser: Browser, text: string, type: ServerMessage['type']): void {
    const { socket } = browser;
    if (socket.readyState !== socket.OPEN) return;
    const waiting = socket.bufferedAmount;
    if (type === 'waveform' && waiting > limits.waveformBacklogBytes) {
      counters.waveformsDropped += 1;
      return;
    }
    if (waiting > limits.backlogBytes) {
      counters.browsersCutOff += 1;
      all.delete(browser);
      socket.terminate();
      return;
    }
    socket.send(text);
  }

  return {
    all,
    counters,
    /** Sends to everybody `to` accepts; the text is made once, and only if somebody wants it. */
    send(message: ServerMessage, to: (browser: Browser) => boolean = () => true): void {
      let text: string | undefined;
      for (const browser of all) {
        if (!to(browser)) continue;
        text ??= JSON.stringify(message);
        deliver(browser, text, message.type);
      }
    },
    close(browser: Browser, code: number, reason: string): void {
      all.delete(browser);
      browser.socket.close(code, reason);
    },
  };
}
