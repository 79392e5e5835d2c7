import type { IPublishPacket, MqttClient } from 'mqtt';
import { BrokerError } from '../errors.ts';

/** Bytes taken and not yet kept, beyond which the connection is not read on. */
const MAX_IN_HAND_BYTES = 1024 * 1024;

/** The one method of mqtt.js used here that its types do not show. */
interface Sender {
  _sendPacket(packet: { cmd: string }, ...rest: unknown[]): void;
}

/**
 * Lets `keep` take each message that arrives, and acknowledges it when its promise resolves; a rejection leaves it, and
 * all that came after it on the same connection, unacknowledged: the broker sends them again.
 *
 * mqtt.js by itself takes the next message only when the last one was acknowledged. One disk write for each message
 * would let a memory card take ten messages a second; this way all that the broker sends ahead shares a write. So the
 * acknowledgement is held where mqtt.js sends it, and mqtt.js goes on at once.
 *
 * Throws BrokerError `BRIDGE_LIBRARY` when mqtt.js does not send its packets where they can be held.
 */
export function holdAcknowledgements(
  client: MqttClient,
  keep: (packet: IPublishPacket) => Promise<void>,
): void {
  const sender = client as unknown as Sender;
  if (typeof sender._sendPacket !== 'function') {
    throw new BrokerError('BRIDGE_LIBRARY');
  }
  const send = sender._sendPacket.bind(client);
  let inHandBytes = 0;
  let waiting: (() => void)[] = [];
  /** The message that mqtt.js is about to acknowledge. */
  let current: { keeping: Promise<void>; connection: unknown } | null = null;
  /** Acknowledgements of the present connection, one after another: MQTT-4.6.0-2 wants the order of arrival. */
  let line: { connection: unknown; last: Promise<void> } = { connection: null, last: Promise.resolve() };

  client.handleMessage = (packet, done) => {
    const connection: unknown = client.stream;
    const bytes = packet.payload.length;
    inHandBytes += bytes;
    const keeping = keep(packet).finally(() => {
      inHandBytes -= bytes;
      if (inHandBytes > MAX_IN_HAND_BYTES) return;
      const ready = waiting;
      waiting = [];
      for (const goOn of ready) goOn();
    });
    // Whoever acknowledges is told as well; a message of QoS 0 has nobody to be told.
    keeping.catch(() => {});
    const goOn = () => {
      current = { keeping, connection };
      // Calls, before it returns, what acknowledges a message of QoS 1.
      done();
      current = null;
    };
    if (inHandBytes > MAX_IN_HAND_BYTES) waiting.push(goOn);
    else goOn();
  };

  sender._sendPacket = (packet, ...rest) => {
    if (packet.cmd !== 'puback') return send(packet, ...rest);
    const message = current;
    const [done] = rest as [(() => void)?];
    if (message !== null) {
      const { keeping, connection } = message;
      if (line.connection !== connection) line = { connection, last: Promise.resolve() };
      line.last = line.last.then(async () => {
        await keeping;
        // The next connection gives the number to another message.
        if (client.stream === connection && client.connected) send(packet);
      });
      line.last.catch(() => {});
    }
    done?.();
  };
}
