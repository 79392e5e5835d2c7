import { readFileSync } from 'node:fs';
import type { Command } from 'commander';
import { StationError } from './errors.ts';

/** How people are told of alerts beyond the page. */
export interface AlertSettings {
  webhooks: { allowOwnNetwork: boolean };
  mail: { url: string; from: string; username?: string; password?: string } | null;
}

/** Options that say how alerts are sent, as commander hands them over. */
export interface AlertOptions {
  alertPrivateNetworks?: boolean;
  smtpUrl?: string;
  smtpFrom?: string;
  smtpUser?: string;
  smtpPasswordFile?: string;
}

/**
 * From options and `CLAMPLINE_*` variables; options win. The mail server's password comes from a file or the environment
 * only: what stands on a command line everybody on the machine can read. Throws StationError `BAD_SETTING`.
 */
export function readAlertSettings(
  options: AlertOptions,
  environment: Record<string, string | undefined>,
): AlertSettings {
  const allowOwnNetwork =
    options.alertPrivateNetworks === true || environment['CLAMPLINE_ALERT_PRIVATE_NETWORKS'] === '1';
  const given = (option: string | undefined, variable: string) => {
    const text = option ?? environment[`CLAMPLINE_SMTP_${variable}`];
    return text === '' ? undefined : text;
  };
  const url = given(options.smtpUrl, 'URL');
  if (url === undefined) return { webhooks: { allowOwnNetwork }, mail: null };
  if (!URL.canParse(url) || !/^smtps?:$/.test(new URL(url).protocol) || new URL(url).hostname === '')
    throw bad(`--smtp-url ${url} does not look like smtp://mail.example:587 or smtps://mail.example:465`);
  if (new URL(url).username !== '' || new URL(url).password !== '')
    throw bad('--smtp-url holds a name or password: give them as --smtp-user and --smtp-password-file');
  const from = given(options.smtpFrom, 'FROM');
  if (from === undefined || !/^[^\s@<>]+@[^\s@<>]+$/.test(from))
    throw bad('--smtp-url needs --smtp-from: the address that mails come from');
  const username = given(options.smtpUser, 'USER');
  const file = given(options.smtpPasswordFile, 'PASSWORD_FILE');
  const password = file === undefined ? given(undefined, 'PASSWORD') : firstLine(file);
  if (username !== undefined && password === undefined)
    throw bad('--smtp-user needs a password: --smtp-password-file or CLAMPLINE_SMTP_PASSWORD');
  return {
    webhooks: { allowOwnNetwork },
    mail: {
      url,
      from,
      ...(username === undefined ? {} : { username }),
      ...(password === undefined ? {} : { password }),
    },
  };
}

/** Adds the options that `readAlertSettings` reads. */
export function withAlerts(command: Command): Command {
  return command
    .option('--alert-private-networks', 'webhooks of alerts may go to private networks and this machine')
    .option('--smtp-url <url>', 'mail server to send alerts with: smtp://host:587 or smtps://host:465')
    .option('--smtp-from <address>', 'address that mails come from')
    .option('--smtp-user <name>', 'account at the mail server')
    .option('--smtp-password-file <file>', 'file with its password (or CLAMPLINE_SMTP_PASSWORD)');
}

const bad = (problem: string) => new StationError('BAD_SETTING', problem);

function firstLine(file: string): string {
  try {
    return readFileSync(file, 'utf8').split(/\r?\n/, 1)[0]!;
  } catch (error) {
    throw bad(`--smtp-password-file: ${(error as Error).message}`);
  }
}
