/** Alerts: what has changed for the worse or fallen silent, since when, and who knows of it. */
import { type Static, Type } from 'typebox';
import { TrendValue } from './model.ts';
import { Id, IdOrNull, NumberOrNull, TextOrNull } from './scalars.ts';

/**
 * `change`: against the own baseline; `zone`: a zone boundary; `finding`: a part's line stands out; `node-quiet`: nothing
 * is heard of a node; `run-overdue`: no run for longer than the watch plan allows; `stop-limit`: a limit of the watch
 * plan is reached.
 */
export const AlertAbout = Type.Enum(['change', 'zone', 'finding', 'node-quiet', 'run-overdue', 'stop-limit']);
export type AlertAbout = Static<typeof AlertAbout>;

export const AlertClearing = Type.Enum([
  'normal-again',
  'heard-again',
  'no-longer-compared',
  'no-longer-due',
]);
export type AlertClearing = Static<typeof AlertClearing>;

export const Alert = Type.Object({
  id: Id,
  about: AlertAbout,
  assetId: IdOrNull,
  assetName: TextOrNull,
  locationId: IdOrNull,
  location: TextOrNull,
  component: TextOrNull,
  nodeId: TextOrNull,
  quantity: Type.Union([TrendValue, Type.Null()]),
  /** Zone boundary, part of the bearing, or what the plan says; empty where nothing is to be added. */
  detail: Type.String(),
  /** Newest value, and the limit it is held against, in `unit`; `ratio`: times the own baseline. */
  value: NumberOrNull,
  limit: NumberOrNull,
  unit: Type.String(),
  /** Expected of an unchanged machine; null where chance plays no part or cannot be worked out. */
  falseAlarmsPerYear: NumberOrNull,
  /** When it began, by the measurements. */
  sinceMs: Type.Number(),
  /** When the station told of it. */
  raisedMs: Type.Number(),
  /** Newest measurement that bears it out. */
  lastSeenMs: Type.Number(),
  clearedMs: NumberOrNull,
  clearedWhy: Type.Union([AlertClearing, Type.Null()]),
  acknowledged: Type.Union([
    Type.Object({ atMs: Type.Number(), by: Type.String(), note: Type.String() }),
    Type.Null(),
  ]),
  /** In words. */
  title: Type.String(),
  meaning: Type.String(),
  /** How often it would come from an unchanged machine. */
  rate: Type.String(),
  /** Where it must not wait; null elsewhere. */
  caution: TextOrNull,
});
export type Alert = Static<typeof Alert>;

/** GET /api/alerts?state&assetId&beforeId -> Alert[]: open ones (default), or all, newest first, 200 at a time. */
export const AlertsQuery = Type.Object({
  state: Type.Optional(Type.Enum(['open', 'all'])),
  assetId: Type.Optional(Id),
  beforeId: Type.Optional(Id),
});

/** POST /api/alerts/:id/acknowledge -> Alert. The name is that of who is logged in. Once only; a later one replaces it. */
export const AcknowledgeRequest = Type.Object({ note: Type.String({ maxLength: 500 }) });
export type AcknowledgeRequest = Static<typeof AcknowledgeRequest>;

/** GET, PUT /api/alert-settings: how long a node may be quiet, and what messages say. */
export const AlertSettings = Type.Object({
  /** Of a machine, and of a vehicle during a run. */
  machineQuietMinutes: Type.Number({ minimum: 2, maximum: 10_080 }),
  /** Of a vehicle between runs, where nodes may be off. */
  vehicleQuietHours: Type.Number({ minimum: 1, maximum: 2_160 }),
  /** Whether what is sent names assets, locations and boards; else it gives their numbers. */
  namesInMessages: Type.Boolean(),
});
export type AlertSettings = Static<typeof AlertSettings>;

/** GET /api/alert-recipients -> AlertRecipient[]. POST adds one, DELETE .../:id removes one, POST .../:id/test tries it. */
export const AlertRecipientRequest = Type.Union([
  Type.Object(
    {
      kind: Type.Literal('email'),
      address: Type.String({ minLength: 3, maxLength: 254, pattern: '^[^\\s@<>,;"]+@[^\\s@<>,;"]+$' }),
    },
    { additionalProperties: false },
  ),
  Type.Object(
    {
      kind: Type.Literal('webhook'),
      url: Type.String({ minLength: 8, maxLength: 500, pattern: '^https?://' }),
      /** With it messages are signed; left out: the station makes one. */
      secret: Type.Optional(Type.String({ minLength: 16, maxLength: 200 })),
    },
    { additionalProperties: false },
  ),
]);
export type AlertRecipientRequest = Static<typeof AlertRecipientRequest>;

export const AlertRecipient = Type.Object({
  id: Id,
  kind: Type.Enum(['email', 'webhook']),
  target: Type.String(),
  addedBy: Type.String(),
  addedMs: Type.Number(),
  /** Shown once, in the answer to adding it. */
  secret: Type.Optional(Type.String()),
  waiting: Type.Integer(),
  lastSentMs: NumberOrNull,
  /** Of the newest try that failed since; null when the last one went well. */
  problem: TextOrNull,
});
export type AlertRecipient = Static<typeof AlertRecipient>;

/** GET /api/alert-account -> AlertAccount: with which programs read alerts at the station's MQTT broker. */
export const AlertAccount = Type.Object({
  username: Type.String(),
  password: TextOrNull,
  topic: Type.String(),
  /** Whether the station has a mail server to send with. */
  canMail: Type.Boolean(),
});
export type AlertAccount = Static<typeof AlertAccount>;

/** What is sent: body of a webhook, payload of the MQTT topic. No plate, owner, person, route or note is in it. */
export interface AlertMessage {
  /** The same for every try and recipient, so that one that comes twice can be told. */
  messageId: string;
  site: string;
  event: 'raised' | 'cleared' | 'acknowledged' | 'test';
  atMs: number;
  alert: Pick<
    Alert,
    | 'id'
    | 'about'
    | 'assetId'
    | 'assetName'
    | 'locationId'
    | 'location'
    | 'component'
    | 'nodeId'
    | 'quantity'
    | 'detail'
    | 'value'
    | 'limit'
    | 'unit'
    | 'falseAlarmsPerYear'
    | 'sinceMs'
    | 'raisedMs'
    | 'clearedMs'
    | 'title'
    | 'meaning'
    | 'rate'
    | 'caution'
  > | null;
}
