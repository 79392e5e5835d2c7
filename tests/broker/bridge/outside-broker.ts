/** Brokers of others, as their packages install them, on free ports and in folders of their own. */
import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { existsSync } from 'node:fs';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { type AddressInfo, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import mqtt from 'mqtt';

export interface OutsideBroker {
  url: string;
  username: string;
  password: string;
  /** Ends it without warning. */
  kill(): Promise<void>;
  /** Starts it again on what the last run left, and waits until it takes connections. */
  start(): Promise<void>;
  /** Ends it and removes its folder. */
  close(): Promise<void>;
}

export interface BrokerKind {
  name: string;
  /** Why it cannot be tried here; null when it can. */
  absent: string | null;
  /** `accounts`: further names and their passwords (mosquitto only). */
  run(accounts?: Record<string, string>): Promise<OutsideBroker>;
}

const MOSQUITTO = ['/usr/sbin/mosquitto', '/usr/bin/mosquitto', '/usr/local/sbin/mosquitto'].find(existsSync);
// The script behind Debian's wrapper, which would change to an account of its own.
const RABBITMQ = ['/usr/lib/rabbitmq/bin/rabbitmq-server'].find(existsSync);

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as AddressInfo;
  server.close();
  await once(server, 'close');
  return port;
}

async function untilItConnects(url: string, username: string, password: string): Promise<void> {
  for (const until = Date.now() + 120_000; ; ) {
    try {
      const client = await mqtt.connectAsync(url, { username, password, reconnectPeriod: 0 }, false);
      await client.endAsync(true);
      return;
    } catch (error) {
      if (Date.now() > until) throw error;
      await sleep(200);
    }
  }
}

function runner(
  spawnBroker: () => ChildProcess,
  place: { url: string; username: string; password: string; folder: string },
  killTree: (child: ChildProcess) => void = (child) => child.kill('SIGKILL'),
) {
  let child: ChildProcess | null = null;
  let output = '';
  async function kill(): Promise<void> {
    if (child === null) return;
    const ended = once(child, 'exit');
    killTree(child);
    await ended;
    child = null;
  }
  return {
    ...place,
    kill,
    async start() {
      child = spawnBroker();
      for (const stream of [child.stdout, child.stderr]) stream?.on('data', (chunk) => (output += chunk));
      try {
        await untilItConnects(place.url, place.username, place.password);
      } catch (error) {
        throw new Error(`the broker does not start: ${(error as Error).message}\n${output}`);
      }
    },
    async close() {
      await kill();
      await rm(place.folder, { recursive: true, force: true });
    },
  };
}

/** With the settings that the documentation of the bridge asks for. */
const mosquitto: BrokerKind = {
  name: 'mosquitto',
  absent: MOSQUITTO === undefined ? 'skipped: mosquitto not installed' : null,
  async run(accounts = {}) {
    const folder = await mkdtemp(join(tmpdir(), 'clampline-mosquitto-'));
    const port = await freePort();
    const [username, password] = ['station', 'a-password'];
    const passwords = join(folder, 'passwords');
    for (const [name, secret] of Object.entries({ [username]: password, ...accounts })) {
      spawnSync('mosquitto_passwd', [
        '-b',
        ...(existsSync(passwords) ? [] : ['-c']),
        passwords,
        name,
        secret,
      ]);
    }
    const lines = [
      `listener ${port} 127.0.0.1`,
      // Without its password tool any name is taken.
      ...(existsSync(passwords) ? [`password_file ${passwords}`] : ['allow_anonymous true']),
      ...(process.getuid?.() === 0 ? ['user root'] : []),
      'persistence true',
      `persistence_location ${folder}/`,
      'autosave_interval 1',
      'max_queued_messages 100000',
      'max_inflight_messages 100',
    ];
    const config = join(folder, 'mosquitto.conf');
    await writeFile(config, `${lines.join('\n')}\n`);
    const broker = runner(() => spawn(MOSQUITTO!, ['-c', config]), {
      url: `mqtt://127.0.0.1:${port}`,
      username,
      password,
      folder,
    });
    await broker.start();
    return broker;
  },
};

const rabbitmq: BrokerKind = {
  name: 'RabbitMQ',
  absent: RABBITMQ === undefined ? 'skipped: rabbitmq-server not installed' : null,
  async run() {
    const folder = await mkdtemp(join(tmpdir(), 'clampline-rabbitmq-'));
    const [port, nodePort, distPort, epmdPort] = [
      await freePort(),
      await freePort(),
      await freePort(),
      await freePort(),
    ];
    const [username, password] = ['guest', 'guest'];
    await writeFile(join(folder, 'plugins'), '[rabbitmq_mqtt].\n');
    await writeFile(
      join(folder, 'rabbitmq.conf'),
      [
        `mqtt.listeners.tcp.1 = 127.0.0.1:${port}`,
        `listeners.tcp.1 = 127.0.0.1:${nodePort}`,
        'mqtt.allow_anonymous = false',
        'mqtt.prefetch = 100',
        // Never expire a session.
        'mqtt.subscription_ttl = undefined',
        'disk_free_limit.absolute = 50MB',
        '',
      ].join('\n'),
    );
    const env = {
      PATH: process.env['PATH'],
      LANG: 'C.UTF-8',
      HOME: folder,
      RABBITMQ_NODENAME: `clampline-${port}@localhost`,
      RABBITMQ_MNESIA_BASE: join(folder, 'data'),
      RABBITMQ_LOG_BASE: join(folder, 'log'),
      RABBITMQ_CONFIG_FILE: join(folder, 'rabbitmq.conf'),
      RABBITMQ_CONF_ENV_FILE: join(folder, 'none'),
      RABBITMQ_ENABLED_PLUGINS_FILE: join(folder, 'plugins'),
      RABBITMQ_NODE_PORT: String(nodePort),
      RABBITMQ_DIST_PORT: String(distPort),
      ERL_EPMD_PORT: String(epmdPort),
      // One scheduler busy-waiting on a shared core is enough.
      RABBITMQ_SERVER_ADDITIONAL_ERL_ARGS: '+sbwt none +sbwtdcpu none +sbwtdio none',
    };
    const epmd = spawn('epmd', ['-port', String(epmdPort), '-address', '127.0.0.1'], { stdio: 'ignore' });
    const broker = runner(
      // A group of its own: the script starts the machine that is the broker.
      () => spawn(RABBITMQ!, [], { env, cwd: folder, detached: true }),
      { url: `mqtt://127.0.0.1:${port}`, username, password, folder },
      (child) => process.kill(-child.pid!, 'SIGKILL'),
    );
    await broker.start();
    return {
      ...broker,
      async close() {
        await broker.close();
        epmd.kill();
      },
    };
  },
};

export const OUTSIDE_BROKERS: readonly BrokerKind[] = [mosquitto, rabbitmq];
