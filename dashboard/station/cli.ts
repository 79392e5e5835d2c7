#!/usr/bin/env node
import { Command, CommanderError } from 'commander';
import { withAlerts } from './alert-settings.ts';
import { backupCommand, restoreCommand } from './backup-command.ts';
import { checkCommand } from './check-command.ts';
import { copyHistoryCommand } from './copy-history-command.ts';
import { enrolCommand } from './enrol-command.ts';
import { exportCommand } from './exchange/export-command.ts';
import { importCommand } from './exchange/import-command.ts';
import { withInflux } from './influx-settings.ts';
import { measureCommand } from './measure-command.ts';
import { passwordCommand } from './password-command.ts';
import { reportCommand } from './report-command.ts';
import { reportFailure } from './report-failure.ts';
import { type RawOptions, readSettings } from './settings.ts';

/** Options that every part of a station takes. */
function stationCommand(name: string, description: string): Command {
  return new Command(name)
    .description(description)
    .option('--data <folder>', 'where the station keeps everything (default: ./data)')
    .option('--site <name>', 'name of this site in every topic (default: workshop)')
    .option('--listen <address>', 'address to listen on (default: 127.0.0.1, this machine only)')
    .option('--tls', "encrypt with a certificate of the station's own, made at the first start")
    .option('--tls-cert <file>', 'encrypt with this certificate (PEM)')
    .option('--tls-key <file>', 'key of --tls-cert (PEM)')
    .option('--plain', 'allow listening beyond this machine without encryption');
}

const withPage = (command: Command) =>
  withAlerts(command)
    .option('--port <number>', 'port of the page (default: 8080)')
    .option('--metrics-token <token>', 'who brings it may read /metrics (default: only this machine may)');
const withBroker = (command: Command) =>
  command
    .option('--mqtt-port <number>', 'port for the nodes (default: 1883)')
    .option('--journal-gib <number>', 'room for raw samples, in GiB (default: 20)')
    .option('--journal-days <number>', 'how long raw samples are kept, in days (default: 14)')
    .option(
      '--bridge <url>',
      'also take in the nodes of another MQTT broker, e.g. mqtt://broker.example:1883',
    )
    .option('--bridge-user <name>', 'account at that broker')
    .option(
      '--bridge-password <password>',
      'its password; better in a file, where other programs do not see it',
    )
    .option('--bridge-password-file <file>', 'file with the password in its first line')
    .option('--bridge-ca <file>', "certificate to trust (PEM), when that broker's is not publicly signed");
/** Where readings are kept and go to. */
const withStore = (command: Command) =>
  withInflux(command)
    .option('--readings-gib <number>', 'room for readings on this disk, in GiB (default: no limit)')
    .option('--influx-write-only', 'that server knows no Flux: only write to it');
const withBrokerAddress = (command: Command) =>
  command.option('--mqtt-url <url>', "where the station's broker is (default: mqtt://127.0.0.1:1883)");

const program = new Command('clampline')
  .description('Vibration station for workshops: measures what clamp-on sensor nodes send.')
  .helpCommand(false)
  .exitOverride();

import { trendCommand } from './trend-command.ts';

program.addCommand(
  withStore(withBroker(withPage(stationCommand('start', 'run the whole station in one process'))))
    .option('--demo', "add the demo: virtual nodes on a small town's three minibuses and a workshop fan")
    .option('--replay <file.wav>', 'play a recording as if it came from a clamped sensor')
    .option('--full-scale <value>', 'acceleration at digital full scale, for --replay')
    .option('--unit <unit>', "unit of --full-scale: 'g' or 'm/s2'", 'g')
    .option('--replay-speed <factor>', 'play so many times as fast as recorded', '1')
    .action(async (options) => {
      const { startStation } = await import('./start.ts');
      await startStation(readSettings(options, process.env), options);
    }),
);
program.addCommand(
  withBroker(stationCommand('broker', 'run the broker and journal alone')).action(
    async (options: RawOptions) => {
      const { runBroker } = await import('./apart.ts');
      await runBroker(readSettings(options, process.env));
    },
  ),
);
program.addCommand(
  withStore(withBrokerAddress(stationCommand('collector', 'run the collector alone')))
    .option('--standby', 'while another collector runs on this data folder, wait to take its place')
    .action(async (options: RawOptions & { standby?: boolean }) => {
      const { runCollector } = await import('./apart.ts');
      await runCollector(readSettings(options, process.env), options.standby === true);
    }),
);
program.addCommand(
  withStore(
    withBrokerAddress(withPage(stationCommand('dashboard', 'run the dashboard server alone'))),
  ).action(async (options: RawOptions) => {
    const { runDashboard } = await import('./apart.ts');
    await runDashboard(readSettings(options, process.env));
  }),
);
program.addCommand(enrolCommand());
program.addCommand(passwordCommand());
program.addCommand(checkCommand());
program.addCommand(backupCommand());
program.addCommand(restoreCommand());
program.addCommand(copyHistoryCommand());
program.addCommand(measureCommand());
program.addCommand(trendCommand());
program.addCommand(exportCommand());
program.addCommand(reportCommand());
program.addCommand(importCommand());

// Commands that are added do not take this from the program: without it they would end the process themselves.
for (const command of program.commands) command.exitOverride();

// Whoever reads may have enough before the end, as `head` does: that is no failure, and ends no station.
for (const stream of [process.stdout, process.stderr]) {
  stream.on('error', (error: NodeJS.ErrnoException) => {
    if (error.code !== 'EPIPE') throw error;
  });
}

try {
  await program.parseAsync();
} catch (error) {
  // Commander has said what was wrong, or printed the help that was asked for.
  if (error instanceof CommanderError) process.exitCode = error.exitCode === 0 ? 0 : 2;
  else process.exitCode = reportFailure(error);
}
