/** For faces, which do not know the ledger: what a purpose may look like. */
export { isCodeWord } from '../../ledger/canonical-event.ts'
