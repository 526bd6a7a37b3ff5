/**
 * Prints how far the analysis is from the simulator's truth: bias and spread apart, because the largest of noisy samples is
 * biased upwards whatever the method. Errors are analysis minus truth, over both muscles and all repetitions and seeds.
 * "at edge": the true peak is cut off by the edge of the part at constant speed; such repetitions are left out of peak and angle.
 */
import { COMPUTE_VERSION } from '../../src/compute/index.ts'
import { runCase } from './accuracy-case.ts'
import { REPORT } from './accuracy-grid.ts'
import { errorTable } from './error-table.ts'

console.log(`Accuracy of compute ${COMPUTE_VERSION} on simulated knees: analysis minus truth`)
for (const { title, cases } of REPORT) console.log(`\n${errorTable(title, cases.map(runCase))}`)
