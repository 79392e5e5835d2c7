import { Compile } from 'typebox/compile';
import type { RawData, WebSocket } from 'ws';
import type { CollectorState, LiveBlock, Reading } from '../../../collector/index.ts';
import { ClientMessage } from '../../contract/live.ts';
import type { VehicleSample } from '../../contract/runs.ts';
import type { DashboardDeps, Limits, Log } from '../config.ts';
import { Refusal } from '../errors.ts';
import type { MountedSensor } from '../records/mounts.ts';
import { RecordError } from '../records/record-error.ts';
import type { RecordChange, RecordStore } from '../records/record-store.ts';
import type { Session } from '../records/sessions.ts';
import type { Rig } from '../rig/rig.ts';
import { createRunFeed, type RunFeed } from '../runs/run-feed.ts';
import { covers, locationReading } from '../view.ts';
import { type Browser, CloseCode, createBrowsers } from './browsers.ts';
import type { BrokerState, StationMessage } from './messages.ts';
import type { NewestReadings } from './newest-readings.ts';
import type { StationFeed } from './station-feed.ts';

const clientMessage = Compile(ClientMessage);
/** Far more than a person can click; a page in a loop is sent away. */
const MOST_MESSAGES_PER_HEARTBEAT = 50;
/** A browser that has answered none of so many heartbeats is gone, whatever the network says. */
const MOST_UNANSWERED = 3;

/** The live side of the page: who watches what, and what they get. */
export interface Live {
  /** Whether another browser fits. */
  hasRoom(): boolean;
  add(socket: WebSocket, session: Session): void;
  /** Where noise marks of nodes and values of vehicles go. */
  readonly runFeed: RunFeed;
  /** What the broker brought. */
  take(message: StationMessage): void;
  /** The feed is there from now on. Without one, browsers get heartbeats and changes of the records only. */
  follow(feed: StationFeed): void;
  /** As of the feed. */
  publish: StationFeed['publish'];
  connections: StationFeed['connections'];
  state(): {
    connected: boolean;
    lastMessageMs: number | null;
    /** What the collector last said of itself; null before it has said anything. */
    collector: CollectorState | null;
    /** What the broker last said of itself. */
    broker: BrokerState | null;
    counters: Record<string, number>;
  };
  close(): Promise<void>;
}

export function createLive(options: {
  records: RecordStore;
  rig: Pick<Rig, 'takeReading' | 'takeHealth' | 'takeTap'>;
  newest(): NewestReadings;
  zoneOf: DashboardDeps['zoneOf'];
  now(): number;
  limits: Limits;
  log: Log;
}): Live {
  const { records, rig, newest, zoneOf, now, limits, log } = options;
  const browsers = createBrowsers(limits);
  const runFeed = createRunFeed(records, now, (assetId, atMs, values) =>
    browsers.send({ type: 'vehicle', assetId, atMs, values }),
  );
  let feed: StationFeed | undefined;
  let badMessages = 0;
  let vehicleMessagesRefused = 0;
  let failures = 0;
  let collector: CollectorState | null = null;
  let broker: BrokerState | null = null;

  function watchedSensor(locationId: number): MountedSensor | null {
    return records.mounts.currentAt(locationId);
  }

  function takeReading(reading: Reading): void {
    // An older one (from a node's store) belongs to the trend, not to a live screen.
    if (!newest().put(reading)) return;
    rig.takeReading(reading);
    if (browsers.all.size === 0) return;
    const mount = records.mounts.ofSensor(reading, reading.startMs);
    if (mount === null || !covers(mount, reading.startMs)) return;
    const { assetId, id } = records.assets.location(mount.locationId);
    const { machineClass } = records.assets.asset(assetId);
    const tolerancePct = records.sensors.toleranceOf(reading.nodeId, reading.sensor);
    browsers.send({
      type: 'reading',
      reading: locationReading(reading, id, machineClass, zoneOf, tolerancePct),
    });
  }

  function takeBlock({
    nodeId,
    sensor,
    startMs,
    sampleRateHz,
    axes: measured,
    spectrumStepHz,
  }: LiveBlock): void {
    const axes = measured.map(({ axis, waveformMPerS2, spectrumMPerS2 }) => ({
      axis,
      waveformMPerS2: waveformMPerS2.map(forPicture),
      spectrumMPerS2: spectrumMPerS2.map(forPicture),
    }));
    const watched = new Set([...browsers.all].map(({ watching }) => watching));
    for (const locationId of watched) {
      const mounted = locationId === null ? null : watchedSensor(locationId);
      if (locationId === null || mounted?.nodeId !== nodeId || mounted.sensor !== sensor) continue;
      browsers.send(
        { type: 'waveform', locationId, startMs, sampleRateHz, axes, spectrumStepHz },
        (browser) => browser.watching === locationId,
      );
    }
  }

  /** What an adapter sends wrongly is its fault: counted, not logged as one of the station's. */
  function takeVehicle(assetId: number, sample: VehicleSample): void {
    try {
      runFeed.takeVehicle(assetId, [sample]);
    } catch (error) {
      if (!(error instanceof Refusal) && !(error instanceof RecordError)) throw error;
      vehicleMessagesRefused += 1;
    }
  }

  function askForWatched(): void {
    const wanted = new Map<string, MountedSensor>();
    for (const { watching } of browsers.all) {
      const sensor = watching === null ? null : watchedSensor(watching);
      if (sensor !== null) wanted.set(`${sensor.nodeId}/${sensor.sensor}`, sensor);
    }
    for (const sensor of wanted.values()) feed?.askFor(sensor);
  }

  function takeClientMessage(browser: Browser, data: RawData, isBinary: boolean): void {
    browser.received += 1;
    const message = isBinary ? undefined : parseJson(String(data));
    if (!clientMessage.Check(message) || browser.received > MOST_MESSAGES_PER_HEARTBEAT) {
      badMessages += 1;
      browsers.close(browser, CloseCode.BadMessage, 'this message is not understood');
      return;
    }
    browser.watching = message.locationId;
    const sensor = message.locationId === null ? null : watchedSensor(message.locationId);
    if (sensor !== null) feed?.askFor(sensor);
  }

  function beat(): void {
    for (const browser of browsers.all) {
      if (!records.sessions.isOpen(browser.sessionId)) {
        browsers.close(browser, CloseCode.LoggedOut, 'the session has ended');
      } else if (browser.unanswered >= MOST_UNANSWERED) {
        browsers.all.delete(browser);
        browser.socket.terminate();
      } else {
        browser.unanswered += 1;
        browser.received = 0;
        browser.socket.ping();
      }
    }
    browsers.send({ type: 'heartbeat', nowMs: now() });
    askForWatched();
  }

  /** These are called by sockets and timers, where an exception would end the whole station. */
  function safely(work: () => void): void {
    try {
      work();
    } catch (error) {
      failures += 1;
      if (failures === 1 || failures % 1000 === 0) {
        log.error(`the live line failed (${failures} times so far): ${(error as Error).message}`);
      }
    }
  }

  const timer = setInterval(() => safely(beat), limits.heartbeatMs);
  timer.unref();
  const stopListening = records.onChange((change) => safely(() => followRecords(change)));

  function followRecords(change: RecordChange): void {
    if (change.kind === 'run') {
      const { runId, assetId } = change;
      browsers.send({ type: 'run-changed', runId, assetId });
      return;
    }
    if (change.kind === 'assets') {
      browsers.send({ type: 'assets-changed' });
      askForWatched(); // The sensor at a watched location may be another one now.
      return;
    }
    if (change.kind === 'alerts') {
      browsers.send({ type: 'alerts-changed' });
      return;
    }
    if (change.kind !== 'session-closed') return;
    for (const browser of browsers.all) {
      if (browser.sessionId === change.sessionId) {
        browsers.close(browser, CloseCode.LoggedOut, 'logged out');
      }
    }
  }

  return {
    hasRoom: () => browsers.all.size < limits.browsers,
    add(socket, session) {
      const browser: Browser = { socket, sessionId: session.id, watching: null, unanswered: 0, received: 0 };
      browsers.all.add(browser);
      socket.on('message', (data, isBinary) => safely(() => takeClientMessage(browser, data, isBinary)));
      socket.on('pong', () => {
        browser.unanswered = 0;
      });
      socket.on('close', () => browsers.all.delete(browser));
      browsers.send({ type: 'heartbeat', nowMs: now() }, (other) => other === browser);
    },
    runFeed,
    take(message) {
      safely(() => {
        if (message.kind === 'reading') takeReading(message.reading);
        else if (message.kind === 'live') takeBlock(message.block);
        else if (message.kind === 'collector') collector = message.state;
        else if (message.kind === 'broker') broker = message.state;
        else if (message.kind === 'event') runFeed.takeEvent(message.event);
        else if (message.kind === 'health') rig.takeHealth(message.health);
        else if (message.kind === 'tap') browsers.send({ type: 'tap', tap: rig.takeTap(message.tap) });
        else takeVehicle(message.assetId, message.sample);
      });
    },
    follow(started) {
      feed = started;
    },
    async publish(topic, payload, retain) {
      if (feed === undefined) throw new Error('the broker is away');
      await feed.publish(topic, payload, retain);
    },
    connections: () => feed?.connections() ?? 0,
    state: () => ({
      connected: feed?.connected() ?? false,
      lastMessageMs: feed?.lastMessageMs() ?? null,
      collector,
      broker,
      counters: {
        browsers: browsers.all.size,
        ...browsers.counters,
        browserMessagesRefused: badMessages,
        vehicleMessagesRefused,
        liveFailures: failures,
        stationMessagesRefused: feed?.refused() ?? 0,
      },
    }),
    async close() {
      clearInterval(timer);
      stopListening();
      for (const browser of browsers.all) browsers.close(browser, CloseCode.GoingAway, 'the station stops');
      await feed?.close();
    },
  };
}

/** Four digits are finer than any screen, and a third of the bytes on the way to a phone. */
function forPicture(value: number): number {
  return Number(value.toPrecision(4));
}

function parseJson(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}
