import type { MqttClient } from 'mqtt';
import {
  decodeTimeAnswer,
  encodeTimeRequest,
  nodeTopic,
  type TimeExchange,
  toNodeTopic,
} from '../../firmware-protocol/index.ts';
import type { NodeClock } from './node-clock.ts';

/** After a few quick exchanges, which find one with little delay, an exchange now and then follows the drift. */
const QUICK_EXCHANGES = 4;
const QUICK_MS = 500;
const SLOW_MS = 15_000;

interface Identity {
  site: string;
  nodeId: string;
  bootId: number;
}

/** Asks the station for the time; each request tells it how the one before turned out. Returns a stop. */
export async function keepTime(
  client: MqttClient,
  identity: Identity,
  clock: NodeClock,
): Promise<() => void> {
  const { nodeId, bootId } = identity;
  let previous: TimeExchange | null = null;
  let asked = 0;
  let timer: NodeJS.Timeout | undefined;

  function ask(): void {
    asked++;
    timer = setTimeout(ask, asked <= QUICK_EXCHANGES ? QUICK_MS : SLOW_MS);
    if (!client.connected) return;
    const request = encodeTimeRequest({ nodeId, bootId, t0Us: clock.nowUs(), previous });
    client.publish(nodeTopic({ ...identity, kind: 'time' }), Buffer.from(request), { qos: 0 });
  }

  client.on('message', (topic, payload) => {
    const t3Us = clock.nowUs();
    if (topic !== toNodeTopic(identity.site, nodeId, 'time')) return;
    const answer = decodeTimeAnswer(payload);
    if (!answer.ok || answer.message.bootId !== bootId || answer.message.t0Us > t3Us) return;
    const { t0Us, t1Us, t2Us } = answer.message;
    previous = { t0Us, t1Us, t2Us, t3Us };
    clock.synced();
  });
  await client.subscribeAsync(toNodeTopic(identity.site, nodeId, '+'), { qos: 1 });
  ask();
  return () => clearTimeout(timer);
}
