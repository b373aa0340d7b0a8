"""All benchmarks, one table after another: `python -m tests.benchmarks`."""

from tests.benchmarks import (
    bench_audit,
    bench_build,
    bench_checklist,
    bench_distance,
    bench_fit,
    bench_picture,
    bench_record,
)


def main():
    bench_distance.main()
    bench_audit.main()
    bench_record.main()
    bench_build.main()
    bench_fit.main()
    bench_checklist.main()
    bench_picture.main()


if __name__ == "__main__":
    main()
