import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Command } from 'commander';
import { NODE_ID_PATTERN } from '../../firmware-protocol/index.ts';
import type { NodeCredential, NodeRequest } from '../contract/http.ts';
import { openRecordStore, settingsHeader } from '../server/index.ts';
import { askPassword } from './ask-password.ts';
import { takeDataFolder } from './data-folder.ts';
import { StationError } from './errors.ts';
import { createPageClient } from './page-client.ts';
import { runningPage } from './running-page.ts';
import { dataPaths, type RawOptions, readSettings, type Settings } from './settings.ts';
import { stationAddress } from './station-address.ts';
import { loadTls } from './tls.ts';

interface EnrolOptions extends RawOptions {
  label: string;
  page?: string;
  trust?: string;
  name?: string;
  passwordFile?: string;
  out?: string;
}

/**
 * `enrol NODE_ID`: makes a node's credentials and prints what to flash. The records have one writer: where a station
 * runs, it is asked, with a person's login; where none does, the command writes itself, holding the station's lock.
 */
export function enrolCommand(): Command {
  return new Command('enrol')
    .description('let a node in, and print what to flash into it as a C header')
    .argument('<node-id>', '16 digits of 0 to 9 and a to f, printed by the node when it starts')
    .requiredOption('--label <text>', 'what is written on its case')
    .option('--out <file.h>', 'write the header there instead of printing it')
    .option('--data <folder>', "the station's data folder (default: ./data)")
    .option('--page <url>', 'address of the running station (default: as the data folder says)')
    .option('--trust <cert.pem>', "certificate to trust (default: the station's own, in the data folder)")
    .option('--name <name>', 'who asks the running station: somebody with the role shop')
    .option('--password-file <file>', 'file with the password in its first line (default: asked for)')
    .option('--site <name>', 'without a running station: name of this site')
    .option('--listen <address>', 'without a running station: address it will listen on')
    .option('--mqtt-port <number>', 'without a running station: port for the nodes')
    .option('--mqtt-url <url>', "without a running station: where nodes reach the station's broker")
    .option('--tls', 'without a running station: it encrypts with a certificate of its own')
    .option('--tls-cert <file>', 'without a running station: it encrypts with this certificate')
    .option('--tls-key <file>', 'key of --tls-cert')
    .action(async (id: string, options: EnrolOptions) => {
      const nodeId = id.toLowerCase().replace(/^0x|[\s:-]/g, '');
      if (!NODE_ID_PATTERN.test(nodeId)) {
        throw new StationError(
          'BAD_SETTING',
          `'${id}' is no node id`,
          'It has 16 digits of 0 to 9 and a to f.',
        );
      }
      const settings = readSettings(options, process.env);
      const request: NodeRequest = { nodeId, label: options.label };
      const page = options.page ?? runningPage(settings.dataDir);
      const credential =
        page === null
          ? await writeRecords(settings, request)
          : await askStation(page, settings, options, request);
      report(credential, request, options.out);
    });
}

async function askStation(
  page: string,
  settings: Settings,
  options: EnrolOptions,
  request: NodeRequest,
): Promise<NodeCredential> {
  if (options.name === undefined) {
    throw new StationError(
      'BAD_SETTING',
      `a station is running at ${page}: it must know who asks`,
      'Add --name with the name of somebody who has the role shop.',
    );
  }
  const client = createPageClient(page, certificateFor(page, settings, options.trust));
  await client.call('POST', '/api/login', {
    name: options.name,
    password: await askPassword(options.passwordFile),
  });
  try {
    return await client.call<NodeCredential>('POST', '/api/nodes', request);
  } finally {
    await client.call('POST', '/api/logout');
  }
}

function certificateFor(page: string, settings: Settings, trust: string | undefined): string | undefined {
  if (!page.startsWith('https:')) return undefined;
  const file = trust ?? join(dataPaths(settings.dataDir).tls, 'station.cert.pem');
  if (trust === undefined && !existsSync(file)) return undefined;
  try {
    return readFileSync(file, 'utf8');
  } catch (error) {
    throw new StationError('TLS_FILES', (error as Error).message);
  }
}

async function writeRecords(settings: Settings, { nodeId, label }: NodeRequest): Promise<NodeCredential> {
  const paths = dataPaths(settings.dataDir);
  if (!existsSync(paths.records)) {
    throw new StationError(
      'NO_STATION',
      `there is no station in data folder '${settings.dataDir}'`,
      'Start it once with `npm start`, or name its folder with --data.',
    );
  }
  const releases = ['station', 'dashboard'].map((part) => takeDataFolder(settings.dataDir, part));
  try {
    const tls = await loadTls(settings.tls, paths.tls);
    const records = openRecordStore(paths.records);
    try {
      const password = records.nodes.add(nodeId, label);
      const station = stationAddress(settings, settings.mqttPort, tls);
      return { nodeId, password, header: settingsHeader({ nodeId, label, password }, station) };
    } finally {
      records.close();
    }
  } finally {
    for (const release of releases) release();
  }
}

/** The header alone goes to standard output, so that it can be sent into a file. */
function report(
  { nodeId, password, header }: NodeCredential,
  { label }: NodeRequest,
  out: string | undefined,
): void {
  console.error(`Node ${nodeId} (${label}) is let in from now on. Its password is shown only this once.`);
  const text = header ?? `/* User name ${nodeId} */\n#define TOKEN "${password}"\n`;
  if (out === undefined) {
    process.stdout.write(text);
    return;
  }
  try {
    writeFileSync(out, text, { mode: 0o600, flag: 'wx' });
    console.error(`What to flash is in ${out}.`);
  } catch (error) {
    // The password cannot be shown again: better on the screen than lost.
    process.stdout.write(text);
    throw new StationError('BAD_SETTING', `the header was printed instead: ${(error as Error).message}`);
  }
}
