import { describe, expect, it } from 'vitest';
import type { Asset, LocationReading, SessionState } from '../../../dashboard/contract/model.ts';
import { reduce } from '../../../dashboard/web/state/reduce.ts';
import { initialState, type Message, type State } from '../../../dashboard/web/state/state.ts';

const reading = (locationId: number, startMs: number): LocationReading => ({
  locationId,
  startMs,
  durationS: 1,
  sampleRateHz: 3200,
  bandHz: [10, 1000],
  axes: [],
  highest: { axis: 'z', velocityRmsMmPerS: 1.5, zone: 'B' },
  flags: [],
});

const asset = (newest: LocationReading | null, sensor: number | null = 0): Asset => ({
  id: 1,
  name: 'Bus 1',
  kind: 'vehicle',
  machineClass: 'II',
  locations: [
    {
      id: 7,
      name: 'Output bearing',
      component: 'Gearbox',
      mount: sensor === null ? null : { nodeId: 'c1a0000000000101', sensor },
      newest,
    },
  ],
});

const session = (name: string | null): SessionState => ({
  setupNeeded: false,
  person: name === null ? null : { name, role: 'shop' },
  site: 'north',
  nowMs: 1_000_500,
  demo: false,
});

const play = (messages: Message[], from: State = initialState): State => messages.reduce(reduce, from);
const arrived = (locationId: number, startMs: number): Message => ({
  type: 'server',
  message: { type: 'reading', reading: reading(locationId, startMs) },
  atMs: 0,
});

describe('readings', () => {
  it('keeps the newest of each location', () => {
    const state = play([arrived(7, 2000), arrived(8, 1000), arrived(7, 3000)]);
    expect(state.newest[7]?.startMs).toBe(3000);
    expect(state.newest[8]?.startMs).toBe(1000);
  });

  it('leaves a second that arrives late to the trend', () => {
    const before = play([arrived(7, 3000)]);
    expect(reduce(before, arrived(7, 2000))).toBe(before);
  });

  it('leaves the other locations untouched, so that their rows are not drawn again', () => {
    const before = play([arrived(7, 1000), arrived(8, 1000)]);
    const after = reduce(before, arrived(7, 2000));
    expect(after.newest[8]).toBe(before.newest[8]);
    expect(after.assets).toBe(before.assets);
  });
});

describe('a list of assets read again', () => {
  it('brings the newest readings along', () => {
    expect(play([{ type: 'assets', assets: [asset(reading(7, 1000))] }]).newest[7]?.startMs).toBe(1000);
  });

  it('does not push back a reading that came live in the meantime', () => {
    const state = play([
      { type: 'assets', assets: [asset(reading(7, 1000))] },
      arrived(7, 5000),
      { type: 'assets', assets: [asset(reading(7, 4000))] },
    ]);
    expect(state.newest[7]?.startMs).toBe(5000);
  });

  it('drops the reading of a sensor that was taken off or exchanged', () => {
    const mounted = play([{ type: 'assets', assets: [asset(null)] }, arrived(7, 5000)]);
    expect(play([{ type: 'assets', assets: [asset(null, null)] }], mounted).newest[7]).toBeUndefined();
    const exchanged = play([{ type: 'assets', assets: [asset(reading(7, 2000), 1)] }], mounted);
    expect(exchanged.newest[7]?.startMs).toBe(2000);
  });

  it('forgets locations that are gone', () => {
    const state = play([arrived(7, 1000), { type: 'assets', assets: [] }]);
    expect(state.newest[7]).toBeUndefined();
  });
});

describe('session', () => {
  it('reckons the station clock against this device', () => {
    const state = play([{ type: 'session', session: session('Ines'), atMs: 1_000_000 }]);
    expect(state.clockOffsetMs).toBe(500);
    const beat: Message = { type: 'server', message: { type: 'heartbeat', nowMs: 70 }, atMs: 100 };
    expect(reduce(state, beat).clockOffsetMs).toBe(-30);
  });

  it('asks for the assets at sign-in, once', () => {
    const signedIn = play([{ type: 'session', session: session('Ines'), atMs: 0 }]);
    expect(signedIn.assetsStale).toBe(1);
    expect(play([{ type: 'session', session: session('Ines'), atMs: 9 }], signedIn).assetsStale).toBe(1);
  });

  it('leaves nothing on screen after a sign-out', () => {
    const state = play([
      { type: 'session', session: session('Ines'), atMs: 0 },
      { type: 'assets', assets: [asset(reading(7, 1000))] },
      { type: 'watch', locationId: 7 },
      { type: 'session', session: session(null), atMs: 0 },
    ]);
    expect(state).toMatchObject({ assets: null, newest: {}, live: null, watching: null });
  });
});

describe('connection', () => {
  it('remembers since when the station is out of reach, by its own clock', () => {
    const state = play([
      { type: 'session', session: session('Ines'), atMs: 1_000_000 },
      { type: 'connection', connection: 'live', atMs: 1_000_000 },
      { type: 'connection', connection: 'lost', atMs: 1_002_000 },
      // Each failed attempt says "lost" again; the first one counts.
      { type: 'connection', connection: 'lost', atMs: 1_009_000 },
    ]);
    expect(state.lostSinceMs).toBe(1_002_500);
  });

  it('reads the assets again once it is back', () => {
    const lost = play([{ type: 'connection', connection: 'lost', atMs: 0 }]);
    const back = play([{ type: 'connection', connection: 'live', atMs: 5 }], lost);
    expect(back.lostSinceMs).toBeNull();
    expect(back.assetsStale).toBe(lost.assetsStale + 1);
  });

  it('reads them again when somebody else changed them', () => {
    const state = play([{ type: 'server', message: { type: 'assets-changed' }, atMs: 0 }]);
    expect(state.assetsStale).toBe(1);
  });
});

describe('live pictures', () => {
  const waveform = (locationId: number): Message => ({
    type: 'server',
    message: { type: 'waveform', locationId, startMs: 0, sampleRateHz: 3200, axes: [], spectrumStepHz: 1 },
    atMs: 0,
  });

  it('are taken only for the location on screen', () => {
    const watching = play([{ type: 'watch', locationId: 7 }]);
    expect(play([waveform(8)], watching).live).toBeNull();
    expect(play([waveform(7)], watching).live?.locationId).toBe(7);
  });

  it('do not stay when another location is opened', () => {
    const state = play([{ type: 'watch', locationId: 7 }, waveform(7), { type: 'watch', locationId: 8 }]);
    expect(state.live).toBeNull();
  });
});

it('ignores a kind of message that it does not know', () => {
  const message = { type: 'server', message: { type: 'of a newer station' }, atMs: 0 };
  expect(reduce(initialState, message as unknown as Message)).toBe(initialState);
});
