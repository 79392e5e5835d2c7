import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { createLiveSocket, type Line } from '../../../dashboard/web/socket.ts';

/** A line whose far end is the test. */
class TestLine implements Line {
  readyState = 0;
  onopen: Line['onopen'] = null;
  onmessage: Line['onmessage'] = null;
  onclose: Line['onclose'] = null;
  sent: string[] = [];
  closed = false;
  send(text: string) {
    this.sent.push(text);
  }
  close() {
    this.closed = true;
  }
  accept() {
    this.readyState = 1;
    this.onopen?.();
  }
  say(data: unknown) {
    this.onmessage?.({ data });
  }
  breakOff() {
    this.readyState = 3;
    this.onclose?.();
  }
}

function setUp() {
  const lines: TestLine[] = [];
  const messages: unknown[] = [];
  const connections: string[] = [];
  const socket = createLiveSocket({
    open: () => {
      const line = new TestLine();
      lines.push(line);
      return line;
    },
    onMessage: (message) => messages.push(message),
    onConnection: (connection) => connections.push(connection),
    random: () => 1,
  });
  socket.start();
  return { socket, lines, messages, connections, newest: () => lines[lines.length - 1]! };
}

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

describe('live line', () => {
  it('hands on messages and drops what is none', () => {
    const { messages, newest } = setUp();
    newest().accept();
    newest().say('{"type":"heartbeat","nowMs":5}');
    newest().say('not JSON');
    newest().say('null');
    newest().say('[]');
    expect(messages).toEqual([{ type: 'heartbeat', nowMs: 5 }]);
  });

  it('comes back by itself, waiting longer each time but never over 15 s', () => {
    const { lines, connections, newest } = setUp();
    newest().accept();
    expect(connections).toEqual(['connecting', 'live']);
    const waits: number[] = [];
    for (let attempt = 0; attempt < 8; attempt += 1) {
      newest().breakOff();
      const before = lines.length;
      let waited = 0;
      while (lines.length === before) {
        vi.advanceTimersByTime(100);
        waited += 100;
      }
      waits.push(waited);
    }
    expect(waits).toEqual([500, 1000, 2000, 4000, 8000, 15_000, 15_000, 15_000]);
    newest().accept();
    expect(connections.at(-1)).toBe('live');
    newest().breakOff();
    vi.advanceTimersByTime(500);
    expect(lines).toHaveLength(10);
  });

  it('gives up a line on which the station has gone silent', () => {
    const { lines, connections, newest } = setUp();
    newest().accept();
    vi.advanceTimersByTime(12_000);
    newest().say('{"type":"heartbeat","nowMs":5}');
    vi.advanceTimersByTime(12_000);
    expect(connections.at(-1)).toBe('live');
    vi.advanceTimersByTime(1_000);
    expect(connections.at(-1)).toBe('lost');
    expect(lines[0]!.closed).toBe(true);
    vi.advanceTimersByTime(1_000);
    expect(lines).toHaveLength(2);
  });

  it('asks again for the watched location after coming back', () => {
    const { socket, newest } = setUp();
    socket.watch(7);
    expect(newest().sent).toEqual([]);
    newest().accept();
    expect(newest().sent).toEqual(['{"type":"watch","locationId":7}']);
    socket.watch(7);
    expect(newest().sent).toHaveLength(1);
    newest().breakOff();
    vi.advanceTimersByTime(500);
    newest().accept();
    expect(newest().sent).toEqual(['{"type":"watch","locationId":7}']);
  });

  it('tries at once when the device wakes up', () => {
    const { socket, lines, newest } = setUp();
    newest().breakOff();
    socket.retryNow();
    expect(lines).toHaveLength(2);
    socket.retryNow();
    expect(lines).toHaveLength(2);
    vi.advanceTimersByTime(60_000);
    // The planned attempt was replaced, not added: the next one comes from the silence on line two.
    expect(lines[1]!.closed).toBe(true);
  });

  it('stays away once stopped', () => {
    const { socket, lines, connections, newest } = setUp();
    newest().accept();
    socket.stop();
    vi.advanceTimersByTime(60_000);
    expect(lines).toHaveLength(1);
    expect(lines[0]!.closed).toBe(true);
    expect(connections).toEqual(['connecting', 'live']);
    socket.start();
    expect(lines).toHaveLength(2);
  });
});
