/** The only place where MQTT topic names are spelt. Site and node ids never hold `/`, `+` or `#`. */

const ROOT = 'clampline';

export const SITE_PATTERN = /^[a-z0-9][a-z0-9-]{0,30}$/;
export const NODE_ID_PATTERN = /^[0-9a-f]{16}$/;

/** What a node publishes. Everything under `node/` is journaled as it arrives. */
export type NodeMessageKind = 'samples' | 'status' | 'time' | 'event';
const NODE_MESSAGE_KINDS: readonly string[] = ['samples', 'status', 'time', 'event'];

/** What the station publishes to one node. */
export type StationMessageKind = 'time' | 'command' | 'journaled';

export interface NodeTopic {
  site: string;
  nodeId: string;
  kind: NodeMessageKind;
}

export function nodeTopic({ site, nodeId, kind }: NodeTopic): string {
  return `${ROOT}/${site}/node/${nodeId}/${kind}`;
}

/** What all nodes of a site publish. */
export function everyNodeTopic(site: string): string {
  return `${ROOT}/${site}/node/+/+`;
}

/** Parses a topic under `node/`; null for any other topic. */
export function parseNodeTopic(topic: string): NodeTopic | null {
  const [root, site, node, nodeId, kind, ...rest] = topic.split('/');
  if (root !== ROOT || node !== 'node' || rest.length > 0) return null;
  if (site === undefined || !SITE_PATTERN.test(site)) return null;
  if (nodeId === undefined || !NODE_ID_PATTERN.test(nodeId)) return null;
  if (kind === undefined || !NODE_MESSAGE_KINDS.includes(kind)) return null;
  return { site, nodeId, kind: kind as NodeMessageKind };
}

/** Topic on which the station speaks to one node; `+` as kind subscribes to all of them. */
export function toNodeTopic(site: string, nodeId: string, kind: StationMessageKind | '+'): string {
  return `${ROOT}/${site}/to/${nodeId}/${kind}`;
}

export function isToNodeTopic(site: string, topic: string): boolean {
  return topic.startsWith(`${ROOT}/${site}/to/`);
}

/** Newest reading of one sensor of a node: JSON, retained. `+` for any. */
export function readingTopic(site: string, nodeId: string, sensor: number | '+'): string {
  return `${ROOT}/${site}/reading/${nodeId}/${sensor}`;
}

/** Live waveform and spectrum of one sensor, published only while somebody watches: JSON. */
export function liveTopic(site: string, nodeId: string, sensor: number | '+'): string {
  return `${ROOT}/${site}/live/${nodeId}/${sensor}`;
}

/** A request, renewed every few seconds, to publish `liveTopic` for one sensor. */
export function watchTopic(site: string, nodeId: string, sensor: number | '+'): string {
  return `${ROOT}/${site}/watch/${nodeId}/${sensor}`;
}

/** How one node does (clock, packets, battery, sensors): JSON, retained. */
export function healthTopic(site: string, nodeId: string): string {
  return `${ROOT}/${site}/health/${nodeId}`;
}

/** A tap that a sensor of this node felt: JSON, not retained. */
export function tapTopic(site: string, nodeId: string): string {
  return `${ROOT}/${site}/tap/${nodeId}`;
}

/** What a vehicle says of itself (speeds, load, gear, temperature), from any adapter: JSON. `+` for any. */
export function vehicleTopic(site: string, assetId: number | '+'): string {
  return `${ROOT}/${site}/vehicle/${assetId}`;
}

/** One open alert: JSON, retained until it is cleared. `+` for any. */
export function alertTopic(site: string, alertId: number | '+'): string {
  return `${ROOT}/${site}/alert/${alertId}`;
}

/** State of the broker and its journal (counters, whether the disk takes what comes): JSON, retained. */
export function brokerTopic(site: string): string {
  return `${ROOT}/${site}/broker`;
}

/** State of the collector (counters, lag, last error): JSON, retained. */
export function collectorTopic(site: string): string {
  return `${ROOT}/${site}/collector`;
}
