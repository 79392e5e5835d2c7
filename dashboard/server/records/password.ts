import { randomBytes, type ScryptOptions, scrypt, timingSafeEqual } from 'node:crypto';
import { RecordError } from './record-error.ts';

/** scrypt work factors (RFC 7914). Memory for one hash is 128 x 2^logN x blockSize bytes. */
export interface PasswordCost {
  logN: number;
  blockSize: number;
  parallel: number;
}

/** One of the settings of the OWASP password storage cheat sheet (from memory): 32 MiB, three lanes. */
export const DEFAULT_PASSWORD_COST: PasswordCost = { logN: 15, blockSize: 8, parallel: 3 };

const KEY_BYTES = 32;

/** One hash at a time in the whole process: a burst of logins waits, up to a bound, and never takes all memory. */
let queue: Promise<unknown> = Promise.resolve();
let waiting = 0;
const MOST_WAITING = 32;

function derive(password: string, salt: Buffer, cost: PasswordCost): Promise<Buffer> {
  const options: ScryptOptions = {
    N: 2 ** cost.logN,
    r: cost.blockSize,
    p: cost.parallel,
    maxmem: 256 * 2 ** cost.logN * cost.blockSize,
  };
  if (waiting >= MOST_WAITING) return Promise.reject(new RecordError('TOO_MANY_REQUESTS'));
  waiting += 1;
  // NFKC, because keyboards differ in how they compose the same letter.
  const text = password.normalize('NFKC');
  const job = queue.then(
    () =>
      new Promise<Buffer>((resolve, reject) => {
        scrypt(text, salt, KEY_BYTES, options, (error, key) => (error ? reject(error) : resolve(key)));
      }),
  );
  queue = job
    .catch(() => undefined)
    .then(() => {
      waiting -= 1;
    });
  return job;
}

/** `scrypt$logN$blockSize$parallel$salt$key`, so that the cost can be raised later without losing anybody. */
export async function hashPassword(password: string, cost = DEFAULT_PASSWORD_COST): Promise<string> {
  const salt = randomBytes(16);
  const key = await derive(password, salt, cost);
  const { logN, blockSize, parallel } = cost;
  return ['scrypt', logN, blockSize, parallel, salt.toString('base64'), key.toString('base64')].join('$');
}

export async function verifyPassword(password: string, stored: string): Promise<boolean> {
  const [scheme, logN, blockSize, parallel, salt, key] = stored.split('$');
  if (scheme !== 'scrypt' || salt === undefined || key === undefined) return false;
  const cost = { logN: Number(logN), blockSize: Number(blockSize), parallel: Number(parallel) };
  const expected = Buffer.from(key, 'base64');
  const actual = await derive(password, Buffer.from(salt, 'base64'), cost);
  return expected.length === actual.length && timingSafeEqual(expected, actual);
}
