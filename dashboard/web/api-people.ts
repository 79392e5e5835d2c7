/** Calls that concern people and their passwords. */
import type { OwnPasswordRequest, PersonChange, PersonEntry, PersonRequest } from '../contract/people.ts';
import type { Call } from './api-runs.ts';

export function peopleCalls(call: Call) {
  return {
    people: () => call<PersonEntry[]>('GET', '/people'),
    letIn: (request: PersonRequest) => call<PersonEntry>('POST', '/people', request),
    change: (id: number, change: PersonChange) => call<PersonEntry>('PATCH', `/people/${id}`, change),
    remove: (id: number) => call('DELETE', `/people/${id}`),
    ownPassword: (request: OwnPasswordRequest) => call('POST', '/password', request),
  };
}
