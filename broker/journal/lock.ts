import { readFileSync } from 'node:fs';
import { readFile, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { BrokerError, systemCode } from '../errors.ts';

/**
 * Makes this process the journal's only writer; returns how to give that up. A lock whose process is gone (killed, or
 * the computer restarted) is taken over. It guards against a second station by mistake, not against an attacker.
 */
export async function lockJournal(dir: string): Promise<() => Promise<void>> {
  const path = join(dir, 'writer.lock');
  const own = identity(process.pid);
  for (;;) {
    try {
      await writeFile(path, own, { flag: 'wx' });
      return () => rm(path, { force: true });
    } catch (error) {
      if (systemCode(error) !== 'EEXIST') throw error;
    }
    const holder = await readFile(path, 'utf8').catch(() => '');
    const pid = Number.parseInt(holder, 10);
    if (pid > 0 && alive(pid) && identity(pid) === holder) {
      throw new BrokerError('JOURNAL_IN_USE', `${dir} is locked by process ${pid}`);
    }
    await rm(path, { force: true });
  }
}

/** Process number and, where the system tells it, the time it started: numbers are used again, pairs are not. */
function identity(pid: number): string {
  try {
    const stat = readFileSync(`/proc/${pid}/stat`, 'utf8');
    // proc(5): the second field is in parentheses and may hold spaces; field 22, the start time, follows it.
    return `${pid} ${stat.slice(stat.lastIndexOf(')') + 2).split(' ')[19]}`;
  } catch {
    return `${pid}`;
  }
}

function alive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return systemCode(error) === 'EPERM';
  }
}
