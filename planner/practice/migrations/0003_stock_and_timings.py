import django.db.models.deletion
import planner.trail.fields
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('practice', '0002_files_and_proposals'),
    ]

    operations = [
        migrations.CreateModel(
            name='StockLot',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('material', models.CharField(max_length=60)),
                ('unit', models.CharField(max_length=20)),
                ('code', models.CharField(max_length=40)),
                ('packs', models.PositiveIntegerField()),
                ('pack_hundredths', models.PositiveBigIntegerField()),
                ('expires', models.DateField(null=True)),
                ('received', models.DateField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stock_lots', to='practice.office')),
            ],
            options={
                'ordering': ('material', models.OrderBy(models.F('expires'), nulls_last=True), 'id'),
                'indexes': [models.Index(fields=['office', 'material'], name='stock_by_material')],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('material', ''), _negated=True), models.Q(('code', ''), _negated=True), models.Q(('unit', ''), _negated=True)), name='stock_lot_named'), models.CheckConstraint(condition=models.Q(('pack_hundredths__gte', 1), ('packs__gte', 1)), name='stock_lot_holds_something')],
            },
        ),
        migrations.CreateModel(
            name='StockMove',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('sequence', models.PositiveIntegerField()),
                ('kind', models.CharField(choices=[('received', 'Received'), ('used', 'Used'), ('discarded', 'Discarded'), ('counted', 'Counted')], max_length=10)),
                ('hundredths', models.BigIntegerField()),
                ('reason', models.CharField(blank=True, max_length=300)),
                ('on', models.DateField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='moves', to='practice.stocklot')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('lot', 'sequence'),
                'constraints': [models.UniqueConstraint(fields=('lot', 'sequence'), name='stock_move_once'), models.CheckConstraint(condition=models.Q(('kind__in', ['received', 'used', 'discarded', 'counted'])), name='stock_move_known'), models.CheckConstraint(condition=models.Q(models.Q(('hundredths__gt', 0), ('kind', 'received')), models.Q(('hundredths__lt', 0), ('kind__in', ('used', 'discarded'))), ('kind', 'counted'), _connector='OR'), name='stock_move_goes_its_way')],
            },
        ),
        migrations.CreateModel(
            name='WorkTiming',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('treatment', models.CharField(max_length=60)),
                ('visit', models.CharField(max_length=60)),
                ('block', models.CharField(max_length=10)),
                ('teeth', models.PositiveSmallIntegerField()),
                ('minutes', models.PositiveSmallIntegerField()),
                ('on', models.DateField()),
                ('disturbed', models.BooleanField()),
                ('why', models.CharField(blank=True, max_length=300)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='work_timings', to='practice.office')),
                ('worked', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('on', 'id'),
                'indexes': [models.Index(fields=['office', 'treatment', 'visit', 'block'], name='timing_by_block')],
                'constraints': [models.CheckConstraint(condition=models.Q(('block__in', ('set-up', 'per tooth', 'finish'))), name='timing_block_known'), models.CheckConstraint(condition=models.Q(('teeth__gte', 1), ('teeth__lte', 32)), name='timing_of_teeth'), models.CheckConstraint(condition=models.Q(('minutes__gte', 1), ('minutes__lte', 600)), name='timing_minutes_possible'), models.CheckConstraint(condition=models.Q(('disturbed', False), models.Q(('why', ''), _negated=True), _connector='OR'), name='timing_disturbed_by_something')],
            },
        ),
        migrations.CreateModel(
            name='MinutesAdopted',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('treatment', models.CharField(max_length=60)),
                ('visit', models.CharField(max_length=60)),
                ('block', models.CharField(max_length=10)),
                ('at', models.DateTimeField()),
                ('book', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.bookversion')),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('last', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.worktiming')),
            ],
            options={
                'ordering': ('id',),
                'indexes': [models.Index(fields=['office', 'treatment', 'visit', 'block'], name='minutes_adopted_by_block')],
            },
        ),
    ]
