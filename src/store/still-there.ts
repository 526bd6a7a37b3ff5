/**
 * The client reads what a row belongs to with a second statement, and somebody may have been erased between the two: then
 * the row is gone as well, whatever the type says.
 */
export function stillThere<Row, Parent extends keyof Row>(rows: readonly Row[], parent: Parent): Row[] {
  return rows.filter((row) => row[parent] !== null)
}
