import type { MqttClient } from 'mqtt';

/** Publishes with QoS 1 and keeps count of what the station has not acknowledged yet. */
export class Sender {
  private waiting = 0;
  private droppedPackets = 0;
  private wake: (() => void) | null = null;
  private readonly client: MqttClient;
  private readonly topic: string;
  private readonly room: number;

  constructor(client: MqttClient, topic: string, room: number) {
    this.client = client;
    this.topic = topic;
    this.room = room;
  }

  get dropped(): number {
    return this.droppedPackets;
  }

  /** Publishes without waiting for the acknowledgement. When there is no room the packet is dropped: false. */
  offer(bytes: Uint8Array): boolean {
    if (this.waiting >= this.room) {
      this.droppedPackets++;
      return false;
    }
    this.waiting++;
    const settled = () => {
      this.waiting--;
      this.wake?.();
    };
    this.client.publishAsync(this.topic, Buffer.from(bytes), { qos: 1 }).then(settled, settled);
    return true;
  }

  /** Waits until at most `packets` are unacknowledged. */
  async untilWaiting(packets: number): Promise<void> {
    while (this.waiting > packets) {
      await new Promise<void>((resolve) => {
        this.wake = resolve;
      });
    }
  }
}
