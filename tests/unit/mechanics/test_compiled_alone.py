"""What is kept compiled is made anew when its own file changes, and not when another does.

So nothing that is compiled may take a number or a function from another file of ours.
"""

import ast
import inspect

import pytest

from towerlift.mechanics import compiled, swinging


@pytest.mark.parametrize("module", [compiled, swinging])
def test_nothing_compiled_reads_another_file(module):
    tree = ast.parse(inspect.getsource(module))
    taken = {
        each.asname or each.name
        for line in ast.walk(tree)
        if isinstance(line, ast.ImportFrom) and (line.module or "").startswith("towerlift")
        for each in line.names
    }
    # A constant of this file that is reckoned from one of another's is another's too.
    for line in tree.body:
        if isinstance(line, ast.Assign):
            used = {each.id for each in ast.walk(line.value) if isinstance(each, ast.Name)}
            if used & taken:
                taken |= {each.id for each in line.targets if isinstance(each, ast.Name)}
    kernels = [each for each in vars(module).values() if hasattr(each, "py_func")]
    assert kernels
    for kernel in kernels:
        assert not set(kernel.py_func.__code__.co_names) & taken
