import { existsSync } from 'node:fs';
import { Command } from 'commander';
import { openRecordStore } from '../server/index.ts';
import { askPassword } from './ask-password.ts';
import { takeDataFolder } from './data-folder.ts';
import { StationError } from './errors.ts';
import { dataPaths, type RawOptions, readSettings } from './settings.ts';

interface PasswordOptions extends RawOptions {
  passwordFile?: string;
  shop?: boolean;
}

const LEAST_LENGTH = 10;

/**
 * `password NAME`: the way back in for a shop in which nobody knows a password any more. Whoever may write the data
 * folder could read it anyhow, so this asks for no login; it needs the station stopped, for the records have one writer.
 */
export function passwordCommand(): Command {
  return new Command('password')
    .description('give a person a new password, while the station is stopped')
    .argument('<name>', 'as on the page')
    .option('--data <folder>', "the station's data folder (default: ./data)")
    .option('--password-file <file>', 'file with the new password in its first line (default: asked for)')
    .option('--shop', 'give the person the role shop as well')
    .action(async (name: string, options: PasswordOptions) => {
      const { dataDir } = readSettings(options, process.env);
      const { records: file } = dataPaths(dataDir);
      if (!existsSync(file)) {
        throw new StationError(
          'NO_STATION',
          `there is no station in data folder '${dataDir}'`,
          'Name its folder with --data.',
        );
      }
      const releases = ['station', 'dashboard'].map((part) => takeDataFolder(dataDir, part));
      try {
        const records = openRecordStore(file);
        try {
          const key = name.trim().toLowerCase();
          const person = records.people.list().find((each) => each.name.toLowerCase() === key);
          if (person === undefined) {
            const names = records.people.list().map((each) => `'${each.name}'`);
            throw new StationError(
              'BAD_SETTING',
              `nobody named '${name}' has an account here`,
              names.length === 0
                ? 'Start the station for its one-time link.'
                : `There are: ${names.join(', ')}.`,
            );
          }
          const password = await askPassword(options.passwordFile);
          if (password.length < LEAST_LENGTH)
            throw new StationError('BAD_SETTING', `a password has at least ${LEAST_LENGTH} characters`);
          await records.people.change(person.id, { password, ...(options.shop ? { role: 'shop' } : {}) });
          console.log(`${person.name} has a new password, and is signed out everywhere.`);
        } finally {
          records.close();
        }
      } finally {
        for (const release of releases) release();
      }
    });
}
