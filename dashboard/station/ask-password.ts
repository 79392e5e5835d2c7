import { readFileSync } from 'node:fs';
import { StationError } from './errors.ts';

const CTRL_C = '\u0003';
const BACKSPACE = new Set(['\u0008', '\u007f']);

/**
 * A person's password: from the first line of a file, from `CLAMPLINE_PASSWORD`, or typed without being shown. Never
 * an option by itself: other programs see those.
 */
export async function askPassword(file: string | undefined): Promise<string> {
  if (file !== undefined) {
    try {
      return readFileSync(file, 'utf8').split(/\r?\n/, 1)[0]!;
    } catch (error) {
      throw new StationError('BAD_SETTING', `--password-file: ${(error as Error).message}`);
    }
  }
  const given = process.env['CLAMPLINE_PASSWORD'];
  if (given !== undefined) return given;
  if (!process.stdin.isTTY) {
    throw new StationError(
      'BAD_SETTING',
      'no password, and nobody to ask for it: this is no terminal',
      'Give --password-file, or set CLAMPLINE_PASSWORD.',
    );
  }
  return typed('Password: ');
}

function typed(question: string): Promise<string> {
  const { stdin, stderr } = process;
  stderr.write(question);
  stdin.setRawMode(true);
  stdin.setEncoding('utf8');
  return new Promise((resolve, reject) => {
    let text = '';
    const finish = (settle: () => void) => {
      stdin.setRawMode(false);
      stdin.pause();
      stdin.off('data', take);
      stderr.write('\n');
      settle();
    };
    const take = (keys: string) => {
      for (const key of keys) {
        if (key === '\r' || key === '\n') return finish(() => resolve(text));
        if (key === CTRL_C) return finish(() => reject(new StationError('BAD_SETTING', 'given up')));
        text = BACKSPACE.has(key) ? text.slice(0, -1) : text + key;
      }
    };
    stdin.on('data', take);
    stdin.resume();
  });
}
