/** How many packets a second the broker takes, beside what the disk and the parts alone do. */
import { once } from 'node:events';
import { open, readFile } from 'node:fs/promises';
import { connect, type Socket } from 'node:net';
import { join } from 'node:path';
import mqttPacket from 'mqtt-packet';
import { openJournalWriter } from '../../broker/index.ts';
import { openJournalReader } from '../../broker/journal/index.ts';
import { bundle, startChild } from '../broker/child-process.ts';
import { memoryLog, samplePacket, samplesTopic, TOKEN, tempFolder } from '../broker/station.ts';

export interface Measured {
  name: string;
  value: number;
  unit: string;
}

const CONNECTIONS = 20;
const IN_FLIGHT = 10;
const PACKETS_EACH = 1500;
const FRAMES = 262; // 3 axes x 262 frames of noise: 1.6 kB
const PAYLOAD = samplePacket(1, undefined, FRAMES);

export async function bench(): Promise<Measured[]> {
  const folder = await tempFolder();
  try {
    const program = await bundle(new URL('../broker/broker-child.ts', import.meta.url), folder.path);
    const figures = [...(await diskAlone(folder.path)), ...(await journalAlone(folder.path))];
    const rates: Record<string, number> = {};
    const costs: Record<string, number> = {};
    // Side by side, twice in turn: the better of each, since the machine is shared.
    for (let round = 0; round < 2; round++) {
      for (const [name, kind, qos] of [
        ['QoS 1, durable', 'journal', 1],
        ['QoS 1, journal that keeps nothing', 'none', 1],
        ['QoS 0, journal that keeps nothing', 'none', 0],
      ] as const) {
        const child = await startChild(program, [join(folder.path, `${kind}-${qos}-${round}`), kind]);
        const cpuBeforeMs = await cpuMs(child.process.pid!);
        const rate = await publishRate(Number(child.firstLine), qos);
        const cpuUs = ((await cpuMs(child.process.pid!)) - cpuBeforeMs) * 1000;
        await child.kill();
        rates[name] = Math.max(rates[name] ?? 0, rate);
        const each = cpuUs / (CONNECTIONS * PACKETS_EACH);
        costs[name] = Math.min(costs[name] ?? Number.POSITIVE_INFINITY, each);
      }
    }
    for (const [name, value] of Object.entries(rates)) {
      figures.push({ name: `broker: ${name}, ${CONNECTIONS} connections`, value, unit: 'packets/s' });
    }
    for (const [name, value] of Object.entries(costs)) {
      figures.push({ name: `broker: ${name}, processor time`, value, unit: 'µs a packet' });
    }
    const [durable, , bare] = Object.values(rates);
    figures.push({
      name: 'broker: durable against QoS 0 without journal',
      value: durable! / bare!,
      unit: 'ratio',
    });
    return figures;
  } finally {
    await folder.remove();
  }
}

/** Processor time a process has used, all its threads: a busy neighbour does not count (proc(5), fields 14 and 15). */
async function cpuMs(pid: number): Promise<number> {
  const stat = await readFile(`/proc/${pid}/stat`, 'utf8');
  const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
  // In clock ticks, of which Linux shows a hundred a second to every program.
  return (Number(fields[11]) + Number(fields[12])) * 10;
}

/** What the disk allows one writer that waits for each write. */
async function diskAlone(dir: string): Promise<Measured[]> {
  const file = await open(join(dir, 'disk-alone'), 'w');
  const rate = await perSecond(500, async (i) => {
    await file.write(PAYLOAD, 0, PAYLOAD.length, i * PAYLOAD.length);
    await file.datasync();
  });
  await file.close();
  return [{ name: 'disk: write 1.6 kB and fdatasync, one after another', value: rate, unit: 'writes/s' }];
}

async function journalAlone(dir: string): Promise<Measured[]> {
  const journalDir = join(dir, 'journal-alone');
  const writer = await openJournalWriter(journalDir, memoryLog());
  const one = await perSecond(500, async () => void (await writer.append(samplesTopic(), PAYLOAD, 1)));
  const together = await perSecond(100, async () => {
    await Promise.all(Array.from({ length: 200 }, () => writer.append(samplesTopic(), PAYLOAD, 1)));
  });
  await writer.close();
  const reader = await openJournalReader(journalDir);
  const end = await reader.endPosition();
  const started = performance.now();
  for (let position = 0; position < end; ) position = (await reader.read(position)).nextPosition;
  const megabytesPerS = end / 1e6 / ((performance.now() - started) / 1000);
  await reader.close();
  return [
    { name: 'journal: append, one after another', value: one, unit: 'packets/s' },
    { name: 'journal: append, 200 at a time', value: together * 200, unit: 'packets/s' },
    { name: 'journal: read', value: megabytesPerS, unit: 'MB/s' },
  ];
}

/** The best of three rounds, since the machine is shared. */
async function perSecond(count: number, work: (i: number) => Promise<void>): Promise<number> {
  let best = 0;
  for (let round = 0; round < 3; round++) {
    const started = performance.now();
    for (let i = 0; i < count; i++) await work(i);
    best = Math.max(best, count / ((performance.now() - started) / 1000));
  }
  return best;
}

/** Packets a second over all connections, until the last acknowledgement. Encoded before, so that only sending counts. */
async function publishRate(port: number, qos: 0 | 1): Promise<number> {
  const nodes = Array.from({ length: CONNECTIONS }, (_, i) => (0xb000 + i).toString(16).padStart(16, '0'));
  const sockets = await Promise.all(nodes.map((node) => login(port, node)));
  const senders = sockets.map((socket, i) => sender(socket, nodes[i]!, qos));
  const started = performance.now();
  await Promise.all(senders.map((send) => send()));
  const seconds = (performance.now() - started) / 1000;
  for (const socket of sockets) socket.destroy();
  return (CONNECTIONS * PACKETS_EACH) / seconds;
}

async function login(port: number, node: string): Promise<Socket> {
  const socket = connect({ port, host: '127.0.0.1', noDelay: true });
  socket.write(
    mqttPacket.generate({
      cmd: 'connect',
      protocolId: 'MQTT',
      protocolVersion: 4,
      clean: true,
      clientId: node,
      keepalive: 60,
      username: node,
      password: Buffer.from(TOKEN),
    }),
  );
  await once(socket, 'data');
  return socket;
}

/** Prepares what one node sends; the function given back sends it and resolves at the last acknowledgement. */
function sender(socket: Socket, node: string, qos: 0 | 1): () => Promise<void> {
  const payload = samplePacket(1, node, FRAMES);
  const packets = Array.from({ length: PACKETS_EACH }, (_, i) =>
    mqttPacket.generate({
      cmd: 'publish',
      topic: samplesTopic(node),
      payload,
      // With QoS 0 the last one alone asks for an acknowledgement: it comes when all before it were handled.
      qos: qos === 1 || i === PACKETS_EACH - 1 ? 1 : 0,
      messageId: i + 1,
      dup: false,
      retain: false,
    }),
  );
  if (qos === 0) {
    const all = Buffer.concat(packets);
    return async () => {
      socket.write(all);
      await once(socket, 'data');
    };
  }
  return () =>
    new Promise((resolve) => {
      let acknowledgedBytes = 0;
      let sent = 0;
      const fill = () => {
        // A PUBACK is four bytes long.
        while (sent < PACKETS_EACH && sent - acknowledgedBytes / 4 < IN_FLIGHT)
          socket.write(packets[sent++]!);
      };
      socket.on('data', (chunk) => {
        acknowledgedBytes += chunk.length;
        if (acknowledgedBytes >= PACKETS_EACH * 4) resolve();
        else fill();
      });
      fill();
    });
}
