import { mkdir, stat } from 'node:fs/promises';
import { BrokerError, reasonOf, systemCode } from '../errors.ts';

/**
 * Makes the journal's folder when only its last part is missing. Not the whole path: a missing parent often is a disk that
 * is not mounted, and the journal must not grow on another one instead.
 */
export async function makeFolder(dir: string): Promise<void> {
  try {
    await mkdir(dir);
  } catch (error) {
    if (systemCode(error) !== 'EEXIST') throw error;
    if (!(await stat(dir)).isDirectory())
      throw new BrokerError('JOURNAL_FOLDER_UNUSABLE', `${dir} is a file`);
  }
}

/** What the system says about the folder, as one of this part's errors. */
export function folderError(dir: string, error: unknown): BrokerError {
  if (error instanceof BrokerError) return error;
  const detail = `${dir} (${reasonOf(error)})`;
  switch (systemCode(error)) {
    case 'ENOENT':
      return new BrokerError('JOURNAL_FOLDER_MISSING', detail, error);
    case 'ENOSPC':
    case 'EDQUOT':
      return new BrokerError('JOURNAL_DISK_FULL', detail, error);
    case 'EACCES':
    case 'EPERM':
    case 'EROFS':
      return new BrokerError('JOURNAL_FOLDER_READ_ONLY', detail, error);
    default:
      return new BrokerError('JOURNAL_FOLDER_UNUSABLE', detail, error);
  }
}
