/** The head of a table: one row of column titles, each told as the head of its column. */

export function ColumnHeads({ titles }: { titles: readonly string[] }) {
  return (
    <thead>
      <tr>
        {titles.map((title) => (
          <th scope="col" key={title}>
            {title}
          </th>
        ))}
      </tr>
    </thead>
  );
}
