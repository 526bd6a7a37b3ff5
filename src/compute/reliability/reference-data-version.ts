/**
 * Version of the published data that verdicts lean on (error tables, and what other folders ship as data).
 * Evaluations carry it, so that a verdict can be reproduced after the data moved.
 * Bump it in the same commit as any change of those data, with an old -> new line in the commit message.
 */
export const REFERENCE_DATA_VERSION = '2026.1'
