import type { MqttClient } from 'mqtt';
import type {
  AlertPoint,
  FleetReader,
  ReadingReader,
  SpanAnswer,
  SpanQuestion,
} from '../../collector/index.ts';
import type { Health } from '../contract/http.ts';
import type { MachineClass, Zone } from '../contract/model.ts';
import type { RefusedLogin, StationAddress } from '../contract/rig.ts';
import type { MailSettings } from './alerts/send/mail.ts';
import type { WebhookOptions } from './alerts/send/webhook.ts';
import type { RecordStore } from './records/record-store.ts';
import type { Analyst } from './runs/analyst.ts';

export interface DashboardConfig {
  /** Address to listen on; default 127.0.0.1. */
  host?: string;
  /** Default 8080; 0 takes a free one. */
  port?: number;
  /** PEM texts. With them the cookie is marked Secure. */
  tls?: { key: string | Buffer; cert: string | Buffer };
  /** Folder of the journal, where raw samples of runs are kept and cut from. Without it there are no captures. */
  journalDir?: string;
  /** Folder for recordings made elsewhere. Without it none are taken. */
  recordingsDir?: string;
  /** Folder of the built page. */
  webRoot: string;
  site: string;
  /** Whoever brings it may read /metrics; without one only this machine may. */
  metricsToken?: string;
  /** Password of the broker's account `vehicle`, for who sets up an adapter. */
  vehiclePassword?: string;
  /** Password of the broker's account `alerts`, for programs that are to be told. */
  alertsPassword?: string;
  /** Ways of telling people of alerts. Default: webhooks to public addresses, no mail. */
  alerts?: { webhooks?: WebhookOptions; mail?: MailSettings | null };
  /** The broker's address and this server's service account there. */
  mqtt: { url: string; username: string; password: string; ca?: string | Buffer };
}

export interface Log {
  info(message: string): void;
  warn(message: string): void;
  error(message: string): void;
}

export type StationHealth = Pick<Health, 'journal' | 'counters'>;

export interface DashboardDeps {
  records: RecordStore;
  readings: ReadingReader;
  zoneOf(velocityRmsMmPerS: number, machineClass: MachineClass): Zone;
  /**
   * All sites that write to the database this station writes to; `write-only` when it may be written to but not asked.
   * Absent: the station writes to none.
   */
  fleet?: FleetReader | 'write-only';
  /** State of the journal, and counters of the stream; the server itself knows collector, broker and browsers. */
  health(): StationHealth | Promise<StationHealth>;
  /** What a node must know to connect; absent where it is not known. */
  station?: () => StationAddress;
  /** Closes the connections of a node that was revoked; absent where the broker runs elsewhere. */
  disconnectNode?: (nodeId: string) => void;
  /** Who was not let in by the broker lately, newest first; absent where the broker runs elsewhere. */
  refusedLogins?: () => Omit<RefusedLogin, 'why'>[];
  /** Looks into a stretch of samples, off this thread; null when there are none. Absent: no findings. */
  analyse?: (question: SpanQuestion) => Promise<SpanAnswer | null>;
  /** Answers questions about raw samples off the event loop. Default: in this thread. */
  analyst?: Analyst;
  /** Writes alerts to the database that many sites share; absent where readings go to none. */
  writeAlertPoints?: (points: AlertPoint[]) => Promise<void>;
  /** Starts the demo's virtual nodes; absent where they cannot run. */
  startDemo?: () => Promise<void>;
  /** Whether the demo runs already, e.g. because the station was started with it. */
  demoRunning?: () => boolean;
  /** Share of the demo's past that is filled in, 0 to 1. */
  demoHistoryShare?: () => number;
  /** Default: mqtt.js with `config.mqtt`. */
  connectMqtt?: (config: DashboardConfig['mqtt']) => MqttClient;
  log: Log;
  now?: () => number;
  limits?: Partial<Limits>;
}

export interface Limits {
  /** Attempts to log in or to set up, per address and minute. */
  loginsPerMinute: number;
  /** Views of owners with a token that is not valid, per address and minute. */
  wrongLinksPerMinute: number;
  /** All requests, per address and minute. */
  requestsPerMinute: number;
  /** Pages connected to the live websocket at once. */
  browsers: number;
  /** Bytes waiting for one browser from which on waveforms are left out. */
  waveformBacklogBytes: number;
  /** Bytes waiting for one browser at which it is cut off: it reconnects and reads the newest state. */
  backlogBytes: number;
  /** Time between heartbeats to browsers, and between renewed requests for live waveforms. */
  heartbeatMs: number;
}

export const DEFAULT_LIMITS: Limits = {
  loginsPerMinute: 10,
  wrongLinksPerMinute: 20,
  requestsPerMinute: 1_200,
  browsers: 100,
  waveformBacklogBytes: 256 * 1024,
  backlogBytes: 1024 * 1024,
  heartbeatMs: 5_000,
};
